package screen

import (
	"fmt"
	"math"
	"regexp"
	"strings"
	"testing"
	"time"

	tea "charm.land/bubbletea/v2"
	"github.com/charmbracelet/x/ansi"

	"glidepace/pacer"
	"glidepace/sessions"
	"glidepace/sessions/glides"
)

// showing returns the model as it is elapsed after the start of step i.
func showing(tl *pacer.Timeline, i int, elapsed time.Duration) model {
	at := time.Unix(1_000_000, 0)
	return model{status: running, timeline: tl, step: i, at: at, now: at.Add(elapsed)}
}

// moments are those that differ on the screen.
func moments(t *testing.T) (names []string, models map[string]model) {
	tl := timeline(t, onExhale)
	models = map[string]model{}
	add := func(name string, elapsed time.Duration, wanted func(pacer.Step) bool) {
		names = append(names, name)
		models[name] = showing(tl, find(t, tl, wanted), elapsed)
	}
	rep := func(m pacer.Move, n int) func(pacer.Step) bool {
		return func(s pacer.Step) bool { return s.Move == m && s.Rep == n && s.Exercise == 1 }
	}
	add("lead-in", time.Second, func(s pacer.Step) bool { return s.Exercise == 0 && s.Breath == pacer.Inhale })
	add("set-up", 5*time.Second, func(s pacer.Step) bool { return s.Move == pacer.SetUp })
	add("first inhale", 2*time.Second, func(s pacer.Step) bool { return s.Move == pacer.Rest && s.InSet() })
	add("glide, early", 1300*time.Millisecond, rep(pacer.Glide, 3))
	add("glide, late", 3*time.Second, rep(pacer.Glide, 3))
	add("turn", 200*time.Millisecond, rep(pacer.MovePause, 3))
	add("return", 1400*time.Millisecond, rep(pacer.Return, 3))
	add("loosen", 4*time.Second, func(s pacer.Step) bool { return s.Move == pacer.Shake })
	add("left glide", 2*time.Second, func(s pacer.Step) bool { return s.Move == pacer.Glide && s.Side.String() == "left" })
	add("own glide", 2*time.Second, func(s pacer.Step) bool { return s.Move == pacer.Glide && s.Exercise == 2 })
	stands := models["glide, late"]
	stands.status = paused
	names, models["paused"] = append(names, "paused"), stands

	standing := func(name string, s status, since time.Duration) {
		m := stands
		m.status, m.stop, m.now, m.outcome = s, m.now, m.now.Add(since), sessions.Completed
		names, models[name] = append(names, name), m
	}
	standing("stopped", stopped, 4999*time.Millisecond)
	standing("stopped, keys heard", stopped, 37900*time.Millisecond)
	standing("asked", asked, 2*time.Minute)
	standing("done", ended, 0)
	eased := func(name string, elapsed time.Duration, from int, i int) {
		names, models[name] = append(names, name), showing(tl.GoOnEased(from), i, elapsed)
	}
	eased("gentler, first inhale", time.Second, stands.step, 0)
	eased("gentler, glide", 4*time.Second, stands.step, 1)
	eased("gentler, left glide", 2*time.Second, models["left glide"].step, 1)
	eased("gentler, own glide", 2*time.Second, models["own glide"].step, 1)
	eased("gentler, set-up", 2*time.Second, models["set-up"].step, 0)
	return names, models
}

func TestFullScreen(t *testing.T) {
	names, models := moments(t)
	for _, size := range [][2]int{{40, 12}, {80, 24}, {120, 40}, {45, 32}, {30, 8}} {
		file := fmt.Sprintf("full-%dx%d.txt", size[0], size[1])
		t.Run(file, func(t *testing.T) {
			var b strings.Builder
			for _, name := range names {
				m := models[name]
				m.width, m.height = size[0], size[1]
				fmt.Fprintf(&b, "== %s\n%s\n", name, ansi.Strip(m.View().Content))
			}
			golden(t, file, b.String())
		})
	}
}

func TestNothingIsLargerThanTheWindow(t *testing.T) {
	wide := strings.Replace(onExhale, "First week", "第一週の練習、ゆっくりとやさしく", 1)
	wide = strings.Replace(wide, "Slide the towel forward a little way.", strings.Repeat("Slide it 前へ. ", 15), 1)
	var all []model
	for _, file := range []string{wide, perRep} {
		whole := timeline(t, file)
		for _, tl := range []*pacer.Timeline{whole, whole.GoOnEased(0)} {
			for i := range tl.Steps {
				m := showing(tl, i, time.Second)
				all = append(all, m)
				m.stop = m.at.Add(-time.Hour)
				for _, m.status = range []status{paused, stopped, asked} {
					all = append(all, m)
				}
			}
		}
	}
	for _, m := range all {
		for _, m.width = range []int{1, 2, 7, 20, 39, 40, 41, 55, 60, 80, 100, 131, 250} {
			for _, m.height = range []int{1, 2, 5, 11, 12, 13, 17, 18, 24, 33, 70} {
				lines := strings.Split(m.View().Content, "\n")
				if len(lines) > m.height {
					t.Fatalf("step %d at %d×%d: %d rows", m.step, m.width, m.height, len(lines))
				}
				for _, l := range lines {
					if w := ansi.StringWidth(l); w > m.width {
						t.Fatalf("step %d at %d×%d: %d columns: %q", m.step, m.width, m.height, w, l)
					}
				}
			}
		}
	}
}

// The smallest window has room for the whole start position and the whole cue
// of each glide in the library, also where the session goes on gentler.
func TestSmallestWindowHoldsTheLibrary(t *testing.T) {
	all := glides.All()
	if len(all) == 0 {
		t.Fatal("the library is empty")
	}
	for _, g := range all {
		tl := timeline(t, fmt.Sprintf("{glidepace: 1, title: T, breath: {rate: 6}, exercises: [{glide: %s, side: left, reps: 3}]}", g.Name))
		for move, text := range map[pacer.Move]string{pacer.SetUp: g.Start, pacer.Glide: g.Cues.Out, pacer.Return: g.Cues.Back} {
			wanted := func(s pacer.Step) bool { return s.Move == move }
			holds(t, showing(tl, find(t, tl, wanted), 0), text)
			eased := tl.GoOnEased(0)
			holds(t, showing(eased, find(t, eased, wanted), 0), text, "Gentler: slower, smaller")
		}
		eased := tl.GoOnEased(find(t, tl, pacer.Step.InSet))
		holds(t, showing(eased, 0, 0), g.Start, "Gentler: slower, smaller", "I N H A L E")
	}
}

// holds checks that the smallest window shows texts in m.
func holds(t *testing.T, m model, texts ...string) {
	t.Helper()
	squeeze := func(s string) string { return strings.Join(strings.Fields(s), " ") }
	m.width, m.height = minWidth, minHeight
	for _, text := range texts {
		if got := squeeze(ansi.Strip(m.View().Content)); !strings.Contains(got, squeeze(text)) {
			t.Errorf("%q is not shown:\n%s", text, ansi.Strip(m.View().Content))
		}
	}
}

// Colour says nothing that is not said without it, and without it there are no
// colour codes.
func TestColor(t *testing.T) {
	codes := regexp.MustCompile(`\x1b\[([0-9;]*)m`)
	_, models := moments(t)
	colored := false
	for name, m := range models {
		m.width, m.height = 80, 24
		without := m.View().Content
		m.paint.color = true
		with := m.View().Content
		if ansi.Strip(with) != ansi.Strip(without) {
			t.Errorf("%s: not the same with colour and without", name)
		}
		for _, c := range codes.FindAllStringSubmatch(without, -1) {
			if c[1] != "" && c[1] != "1" {
				t.Errorf("%s: code %q without colour", name, c[0])
			}
		}
		for _, c := range codes.FindAllStringSubmatch(with, -1) {
			colored = colored || c[1] == "36"
			if c[1] != "" && c[1] != "1" && c[1] != "36" {
				t.Errorf("%s: code %q is not one of the 16 colours' that are used", name, c[0])
			}
		}
	}
	if !colored {
		t.Error("nothing is in colour")
	}
}

func TestPosition(t *testing.T) {
	tl := timeline(t, perRep) // glide 2.5 s, pause 0.5 s, return 2.5 s, pause 0.5 s
	first := find(t, tl, func(s pacer.Step) bool { return s.Move == pacer.Glide })
	for _, c := range []struct {
		step    int
		elapsed float64
		want    float64
	}{
		{first - 1, 1, 0},                                             // at the start position
		{first, -1, 0}, {first, 0, 0}, {first, 2.5, 1}, {first, 9, 1}, // never beyond its ends
		{first, 1.25, .5}, {first, 2.5 / 3, .25}, {first, 2.5 / 1.5, .75}, // slower toward the ends
		{first + 1, .2, 1},
		{first + 2, 0, 1}, {first + 2, 2.5 / 3, .75}, {first + 2, 2.5, 0},
		{first + 3, .2, 0}, // the pause after the return
	} {
		if got := position(tl, c.step, c.elapsed); math.Abs(got-c.want) > 1e-9 {
			t.Errorf("step %d (%s) after %g s: %g, want %g", c.step, tl.Steps[c.step].Move, c.elapsed, got, c.want)
		}
	}
}

func press(key string) tea.KeyPressMsg {
	if key == "ctrl+c" {
		return tea.KeyPressMsg{Code: 'c', Mod: tea.ModCtrl}
	}
	if key == "enter" {
		return tea.KeyPressMsg{Code: tea.KeyEnter}
	}
	return tea.KeyPressMsg{Code: []rune(key)[0], Text: key}
}

func TestKeysOfTheFullScreen(t *testing.T) {
	var said []pacer.Command
	m := model{send: func(c pacer.Command) { said = append(said, c) }}
	for _, key := range []string{" ", "x", "n", "N", "q", "Q", "ctrl+c", "7", "enter", "s", "S", "y", "u", "p", "b"} {
		if _, cmd := m.Update(press(key)); cmd != nil {
			cmd()
		}
	}
	want := []pacer.Command{pacer.Toggle, pacer.Enough, pacer.Enough, pacer.Quit, pacer.Quit, pacer.Quit,
		pacer.Stop, pacer.Stop, pacer.Stop, pacer.Yes, pacer.NoSymptoms, pacer.SayPain, pacer.SayBreath}
	if fmt.Sprint(said) != fmt.Sprint(want) {
		t.Errorf("said %v, want %v", said, want)
	}
}

func TestStates(t *testing.T) {
	tl := timeline(t, onExhale)
	glide := find(t, tl, func(s pacer.Step) bool { return s.Move == pacer.Glide })
	start := time.Unix(1_000_000, 0)
	m := model{}
	var cmd tea.Cmd
	update := func(msg tea.Msg) {
		next, c := m.Update(msg)
		m, cmd = next.(model), c
	}
	shows := func(texts ...string) {
		t.Helper()
		for _, text := range texts {
			if !strings.Contains(ansi.Strip(m.View().Content), text) {
				t.Errorf("the screen lacks %q:\n%s", text, ansi.Strip(m.View().Content))
			}
		}
	}

	update(tea.WindowSizeMsg{Width: 40, Height: 12})
	shows("space pause")
	update(eventMsg{Kind: pacer.Began, Timeline: tl, At: start})
	update(eventMsg{Kind: pacer.Stepped, Timeline: tl, Step: glide, At: start})
	shows("E X H A L E   5", "1 of 6", "next: inhale", "n enough", "q end")
	if cmd == nil {
		t.Fatal("no frame is asked for while the limb moves")
	}
	old := frameMsg{start.Add(time.Second), m.chain - 1}
	if update(old); !m.now.Equal(start) || cmd != nil {
		t.Error("a frame of a step that is over was drawn")
	}
	update(frameMsg{start.Add(2500 * time.Millisecond), m.chain})
	shows("E X H A L E   2")
	if cmd == nil {
		t.Fatal("no frame follows")
	}

	moved := ansi.Strip(m.View().Content)
	last := m.chain
	update(eventMsg{Kind: pacer.Paused, Timeline: tl, Step: glide, At: start.Add(2600 * time.Millisecond)})
	shows("P A U S E D", "paused — space goes on", "Breathe as you like", "space go on")
	if cmd != nil {
		t.Error("a frame is asked for while the session stands still")
	}
	if update(frameMsg{start.Add(time.Minute), last}); cmd != nil || !m.now.Equal(start.Add(2600*time.Millisecond)) {
		t.Error("the picture moves on in a pause")
	}

	update(eventMsg{Kind: pacer.Stepped, Timeline: tl.GoOn(glide), Step: 0, At: start.Add(time.Minute)})
	shows("I N H A L E", "space pause")
	if strings.Contains(moved, "I N H A L E") {
		t.Error("inhale was shown before")
	}

	// Stopped for symptoms: a frame a second, at once after the second.
	start = start.Add(2 * time.Minute)
	update(eventMsg{Kind: pacer.Stopped, Timeline: tl, Step: glide, At: start})
	shows("S T O P", "Let the arm hang and loosen it", "0:00 since you stopped", "a moment…", "p: pain, end for today", "q: end")
	hides := func(texts ...string) {
		t.Helper()
		for _, text := range texts {
			if strings.Contains(ansi.Strip(m.View().Content), text) {
				t.Errorf("the screen shows %q:\n%s", text, ansi.Strip(m.View().Content))
			}
		}
	}
	hides("Enter", "u:", "left", "next")
	if cmd == nil {
		t.Fatal("no frame is asked for after a stop")
	}
	if update(frameMsg{start.Add(pacer.DeafAfterStop - 1), m.chain}); cmd == nil {
		t.Fatal("no frame follows after a stop")
	}
	hides("Enter", "u:")
	update(frameMsg{start.Add(pacer.DeafAfterStop), m.chain})
	shows("0:05 since you stopped", "Enter: it has settled, go on gentler", "u: it was only a pause")
	hides("a moment")
	update(eventMsg{Kind: pacer.StillThere, Timeline: tl, Step: glide, At: start.Add(2 * time.Minute)})
	shows("2:00 since you stopped", "ingling still there?", "y: yes, end for today", "n: no, it has settled, go on gentler")
	update(frameMsg{start.Add(2*time.Minute + time.Second), m.chain})
	shows("2:01 since you stopped")
	update(eventMsg{Kind: pacer.Answered, Timeline: tl, Step: glide, At: start.Add(3 * time.Minute)})
	update(eventMsg{Kind: pacer.Stepped, Timeline: tl.GoOnEased(glide), Step: 0, At: start.Add(3 * time.Minute)})
	shows("I N H A L E", "Gentler: slower, smaller", "Let the arm float out")

	update(eventMsg{Kind: pacer.Ended, Timeline: tl, Outcome: sessions.Completed})
	shows("D O N E", "Let the arm hang and loosen it")
	hides("Enter", "space", "next", "I N H A L E")
	if cmd != nil {
		t.Error("a frame is asked for after the end")
	}
	m.width, m.height = 30, 8
	shows("DONE", "Let the arm hang and loosen")
	update(eventMsg{Kind: pacer.Ended, Timeline: tl, Outcome: sessions.EndedEarly})
	shows("ENDED")
}

func BenchmarkView(b *testing.B) {
	tl := timeline(b, onExhale)
	i := find(b, tl, func(s pacer.Step) bool { return s.Move == pacer.Glide })
	m := showing(tl, i, time.Second)
	m.width, m.height = 80, 24
	for b.Loop() {
		m.View()
	}
}
