package screen

import (
	"slices"
	"strings"
	"testing"
	"time"

	tea "charm.land/bubbletea/v2"
	"github.com/charmbracelet/x/ansi"

	"glidepace/devices/screen/scene"
	"glidepace/pacer"
	"glidepace/sessions"
)

func press(key string) tea.KeyPressMsg {
	if key == "ctrl+c" {
		return tea.KeyPressMsg{Code: 'c', Mod: tea.ModCtrl}
	}
	if key == "enter" {
		return tea.KeyPressMsg{Code: tea.KeyEnter}
	}
	return tea.KeyPressMsg{Code: []rune(key)[0], Text: key}
}

// Keys are called otherwise here than where they are read as bytes.
func TestKeysOfTheFullScreen(t *testing.T) {
	var said []pacer.Command
	m := model{State: scene.State{Steering: scene.Keyboard}, send: func(c pacer.Command) { said = append(said, c) }}
	for _, key := range []string{" ", "x", "N", "ctrl+c", "7", "enter", "d"} {
		if _, cmd := m.Update(press(key)); cmd != nil {
			cmd()
		}
	}
	want := []pacer.Command{pacer.Toggle, pacer.Enough, pacer.Quit, pacer.Stop, pacer.SayWarning}
	if !slices.Equal(said, want) {
		t.Errorf("said %v, want %v", said, want)
	}
}

// watched is a model in a small window.
type watched struct {
	t   *testing.T
	m   model
	cmd tea.Cmd // what the last message led to
}

func (x *watched) update(msg tea.Msg) {
	next, cmd := x.m.Update(msg)
	x.m, x.cmd = next.(model), cmd
}

func (x *watched) shows(texts ...string) { x.t.Helper(); x.has(true, texts) }
func (x *watched) hides(texts ...string) { x.t.Helper(); x.has(false, texts) }

func (x *watched) has(want bool, texts []string) {
	x.t.Helper()
	view := ansi.Strip(x.m.View().Content)
	for _, text := range texts {
		if strings.Contains(view, text) != want {
			x.t.Errorf("the screen shows %q: %v, want %v:\n%s", text, !want, want, view)
		}
	}
}

func watch(t *testing.T) (x *watched, tl *pacer.Timeline, glide int) {
	tl = timeline(t, onExhale)
	x = &watched{t: t, m: model{State: scene.State{Steering: scene.Keyboard}}}
	x.update(tea.WindowSizeMsg{Width: 40, Height: 12})
	return x, tl, find(t, tl, func(s pacer.Step) bool { return s.Move == pacer.Glide })
}

func TestStepsAndPause(t *testing.T) {
	x, tl, glide := watch(t)
	start := time.Unix(1_000_000, 0)
	x.shows("a moment…     q end the session")
	x.update(eventMsg{Kind: pacer.Began, Timeline: tl, At: start})
	x.update(eventMsg{Kind: pacer.Stepped, Timeline: tl, Step: 0, At: start})
	x.hides("Enter", "space")
	x.update(frameMsg{start.Add(pacer.DeafAtStart), x.m.chain})
	x.shows("Enter stop  space pause  q end")
	x.hides("a moment")

	start = start.Add(time.Minute)
	x.update(eventMsg{Kind: pacer.Stepped, Timeline: tl, Step: glide, At: start})
	x.shows("E X H A L E   5", "1 of 6", "next: inhale", "n enough", "q end")
	if x.cmd == nil {
		t.Fatal("no frame is asked for while the limb moves")
	}
	old := frameMsg{start.Add(time.Second), x.m.chain - 1}
	if x.update(old); !x.m.Now.Equal(start) || x.cmd != nil {
		t.Error("a frame of a step that is over was drawn")
	}
	x.update(frameMsg{start.Add(2500 * time.Millisecond), x.m.chain})
	x.shows("E X H A L E   2")
	if x.cmd == nil {
		t.Fatal("no frame follows")
	}

	moved := ansi.Strip(x.m.View().Content)
	last := x.m.chain
	x.update(eventMsg{Kind: pacer.Paused, Timeline: tl, Step: glide, At: start.Add(2600 * time.Millisecond)})
	x.shows("P A U S E D", "paused — space goes on", "Breathe as you like", "space go on")
	if x.cmd != nil {
		t.Error("a frame is asked for while the session stands still")
	}
	if x.update(frameMsg{start.Add(time.Minute), last}); x.cmd != nil || !x.m.Now.Equal(start.Add(2600*time.Millisecond)) {
		t.Error("the picture moves on in a pause")
	}

	x.update(eventMsg{Kind: pacer.Stepped, Timeline: tl.GoOn(glide), Step: 0, At: start.Add(time.Minute)})
	x.shows("I N H A L E", "space pause")
	if strings.Contains(moved, "I N H A L E") {
		t.Error("inhale was shown before")
	}
}

func TestStopGoingOnAndEnd(t *testing.T) {
	x, tl, glide := watch(t)
	start := time.Unix(1_000_000, 0)
	// Stopped for symptoms: a frame a second, at once after the second.
	x.update(eventMsg{Kind: pacer.Stepped, Timeline: tl, Step: glide, At: start})
	start = start.Add(2 * time.Second)
	x.update(eventMsg{Kind: pacer.Stopped, Timeline: tl, Step: glide, At: start})
	x.shows("S T O P", "Let the arm hang and loosen it", "0:00 since you stopped", "a moment…", "p: pain, end for today", "q: end")
	x.hides("Enter", "u:", "left", "next", "ingling still", "d:")
	if x.cmd == nil {
		t.Fatal("no frame is asked for after a stop")
	}
	if x.update(frameMsg{start.Add(pacer.DeafAfterStop - 1), x.m.chain}); x.cmd == nil {
		t.Fatal("no frame follows after a stop")
	}
	x.hides("Enter", "u:")
	x.update(frameMsg{start.Add(pacer.DeafAfterStop), x.m.chain})
	x.shows("0:05 since you stopped", "Enter: it has settled, go on gentler", "u: it was only a pause")
	x.hides("a moment")
	x.update(eventMsg{Kind: pacer.StillThere, Timeline: tl, Step: glide, At: start.Add(2 * time.Minute)})
	x.shows("2:00 since you stopped", "Is it back to where it was?", "y: yes, go on gentler", "n: no, end for today")
	x.update(frameMsg{start.Add(2*time.Minute + time.Second), x.m.chain})
	x.shows("2:01 since you stopped")

	// Gone on: time to come back, in which keys are not heard at first.
	start = start.Add(3 * time.Minute)
	x.update(eventMsg{Kind: pacer.Answered, Timeline: tl, Step: glide, At: start, Answer: pacer.Settled})
	x.update(eventMsg{Kind: pacer.Stepped, Timeline: tl.GoOnEased(glide), Step: 0, At: start})
	x.shows("R I G H T   8", "right, start position again", "Gentler: slower, smaller", "Let the arm float out", "a moment…     q end the session")
	x.hides("Enter", "space")
	x.update(frameMsg{start.Add(pacer.DeafWhenGoingOn), x.m.chain})
	x.shows("R I G H T   5", "Enter stop  space pause  q end")
	x.hides("a moment")

	x.update(eventMsg{Kind: pacer.Ended, Timeline: tl, Outcome: sessions.Completed})
	x.shows("D O N E", "Let the arm hang and loosen it")
	x.hides("Enter", "space", "next", "I N H A L E")
	if x.cmd != nil {
		t.Error("a frame is asked for after the end")
	}
	x.m.width, x.m.height = 30, 8
	x.shows("DONE", "Let the arm hang and loosen")
	x.update(eventMsg{Kind: pacer.Ended, Timeline: tl, Outcome: sessions.EndedEarly})
	x.shows("ENDED")

	// Ended for symptoms: what to do now is there from the first moment.
	x.m.width, x.m.height = 80, 24
	x.update(eventMsg{Kind: pacer.Answered, Timeline: tl, Step: glide, At: start, Answer: pacer.Breathing})
	x.update(eventMsg{Kind: pacer.Ended, Timeline: tl, Outcome: sessions.Symptoms})
	x.shows("Sit down and breathe as you like, softly.", "breathlessness that stays: call emergency services")
	x.hides("arm hang")
	x.m.width, x.m.height = 40, 12
	x.shows("E N D E D")
}
