package screen

import (
	"fmt"
	"math"
	"strings"
	"testing"
	"time"

	"github.com/charmbracelet/x/ansi"

	"glidepace/devices/screen/scene"
	"glidepace/pacer"
	"glidepace/sessions"
	"glidepace/sessions/glides"
)

// showing returns the model as it is elapsed after the start of step i.
func showing(tl *pacer.Timeline, i int, elapsed time.Duration) model {
	at := time.Unix(1_000_000, 0)
	return model{State: scene.State{Steering: scene.Keyboard, Status: scene.Running, Timeline: tl, Step: i, At: at, Now: at.Add(elapsed)}}
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
	stands.Status = scene.Paused
	names, models["paused"] = append(names, "paused"), stands

	standing := func(name string, s scene.Status, since time.Duration) {
		m := stands
		m.Status, m.Stop, m.Now, m.Outcome = s, m.Now, m.Now.Add(since), sessions.Completed
		m.Heard = m.Stop.Add(pacer.DeafAfterStop)
		names, models[name] = append(names, name), m
	}
	standing("stopped", scene.Stopped, 4999*time.Millisecond)
	standing("stopped, keys heard", scene.Stopped, 37900*time.Millisecond)
	standing("asked", scene.Asked, 2*time.Minute)
	standing("done", scene.Ended, 0)
	eased := func(name string, elapsed time.Duration, from int, i int) {
		names, models[name] = append(names, name), showing(tl.GoOnEased(from), i, elapsed)
	}
	eased("gentler, coming back", time.Second, stands.Step, 0)
	eased("gentler, first inhale", time.Second, stands.Step, 1)
	eased("gentler, glide", 4*time.Second, stands.Step, 2)
	eased("gentler, left glide", 2*time.Second, models["left glide"].Step, 2)
	eased("gentler, own glide", 2*time.Second, models["own glide"].Step, 2)
	eased("gentler, set-up", 2*time.Second, models["set-up"].Step, 0)
	deaf := models["gentler, coming back"]
	deaf.Heard = deaf.At.Add(pacer.DeafWhenGoingOn)
	names, models["gentler, keys not heard yet"] = append(names, "gentler, keys not heard yet"), deaf

	tl = timeline(t, neck)
	in := func(m pacer.Move) func(pacer.Step) bool {
		return func(s pacer.Step) bool { return s.Move == m && (s.Exercise == 1) == (m != pacer.Posture) }
	}
	add("posture", time.Second, in(pacer.Posture))
	add("posture, its last second", 37*time.Second, in(pacer.Posture))
	eased("gentler, posture", time.Second, 2, 0)
	add("neck, set-up", 2*time.Second, in(pacer.SetUp))
	add("neck, half the way", 2*time.Second, in(pacer.Rest))
	add("neck, glide", 3*time.Second, in(pacer.Glide))
	eased("neck, gentler glide", 3*time.Second, models["neck, glide"].Step, 2)
	stands = models["neck, glide"]
	standing("neck, paused", scene.Paused, time.Minute)
	standing("neck, stopped", scene.Stopped, 37900*time.Millisecond)
	standing("neck, asked", scene.Asked, 2*time.Minute)
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
			for i, s := range tl.Steps {
				if s.Rep > 2 {
					continue // as in the second
				}
				m := showing(tl, i, time.Second)
				all = append(all, m)
				m.Stop = m.At.Add(-time.Hour)
				for _, m.Status = range []scene.Status{scene.Paused, scene.Stopped, scene.Asked} {
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
					t.Fatalf("step %d at %d×%d: %d rows", m.Step, m.width, m.height, len(lines))
				}
				for _, l := range lines {
					if w := ansi.StringWidth(l); w > m.width {
						t.Fatalf("step %d at %d×%d: %d columns: %q", m.Step, m.width, m.height, w, l)
					}
				}
			}
		}
	}
}

// In every window from the smallest on, each glide of the library has room for
// all that is told, in every state, and for its keys: nothing is cut, and a text
// that is told in parts is told whole.
func TestWindowsHoldTheLibrary(t *testing.T) {
	all := glides.All()
	if len(all) == 0 {
		t.Fatal("the library is empty")
	}
	sizes := [][2]int{{minWidth, minHeight}, {45, 32}, {60, 17}, {80, 18}, {80, 24}}
	for _, g := range all {
		for _, opts := range [][2]string{{"full", "half"}, {"short", "full"}} {
			tl := timeline(t, fmt.Sprintf("{glidepace: 1, title: T, posture: %s, breath: {rate: 8}, lead_in: {breaths: 1}, "+
				"exercises: [{glide: %s, side: left, reps: 3, sets: 2, range: %s}]}", opts[0], g.Name, opts[1]))
			lines := []*pacer.Timeline{tl}
			for move := pacer.Rest; move <= pacer.Posture; move++ {
				lines = append(lines, tl.GoOnEased(find(t, tl, func(s pacer.Step) bool { return s.Move == move })))
			}
			for _, line := range lines {
				for i, s := range line.Steps {
					if s.Set > 1 || s.Rep > 1 {
						continue // as in the first
					}
					for _, size := range sizes {
						m := showing(line, i, 0)
						m.width, m.height = size[0], size[1]
						holds(t, m)
						m.Heard = m.At.Add(pacer.DeafWhenGoingOn)
						holds(t, m)
						m.Stop = m.At
						for _, m.Status = range []scene.Status{scene.Paused, scene.Stopped, scene.Asked} {
							m.Heard = time.Time{}
							holds(t, m)
							if m.Status != scene.Asked {
								m.Heard = m.At.Add(time.Second)
								holds(t, m)
							}
						}
					}
				}
			}
		}
	}
}

var squeeze = func(s string) string { return strings.Join(strings.Fields(ansi.Strip(s)), " ") }

// holds checks that the window of m, from a step's beginning to its end, has all
// that is to be said in it.
func holds(t *testing.T, m model) {
	t.Helper()
	s, e := m.Timeline.Steps[m.Step], m.Timeline.ExerciseOf(m.Timeline.Steps[m.Step])
	var missing []string
	seen := ""
	for range 1 + int(s.Duration) {
		view := m.View().Content
		body := view
		if m.height >= roomyHeight { // a long title gives way to the time
			_, body, _ = strings.Cut(view, "\n")
		}
		if n := strings.Count(body, "…"); n > 1 || n == 1 && !strings.Contains(body, scene.AMoment) {
			t.Fatalf("something is cut at %d×%d:\n%s", m.width, m.height, ansi.Strip(view))
		}
		seen += " " + squeeze(view)
		if m.Status != scene.Running || m.Page().Instructions == nil {
			break
		}
		m.Now = m.Now.Add(time.Second)
	}
	want := map[pacer.Move][]string{}
	if e != nil {
		want[pacer.SetUp] = scene.Sentences(e.Glide.Start)
		want[pacer.Glide], want[pacer.Return] = []string{e.Glide.Cues.Out}, []string{e.Glide.Cues.Back}
		want[pacer.Rest] = []string{e.Range.HowFar()}
	}
	want[pacer.Posture] = append(scene.PostureTexts(m.Timeline), "Hands off the keyboard.")
	texts := want[s.Move]
	switch {
	case s.Move == pacer.SetUp && e.Glide.Neck && !scene.ResumesStart(m.Timeline, m.Step):
		texts = append(texts, "d if dizzy, unsteady or faint")
	case m.Timeline.Easing().Eased && s.Exercise > 0:
		texts = append(texts, "Gentler: slower, smaller")
	}
	switch m.Status {
	case scene.Paused:
		texts = []string{"Let the arm hang and loosen it. Breathe as you like."}
	case scene.Stopped:
		texts = []string{"Let the arm hang and loosen it. Breathe as you like.", "0:00 since you stopped", "p: pain, end for today", "q: end"}
	case scene.Asked:
		texts = []string{"Is it back to where it was? Without an answer the session ends.", "y: yes", "n: no, end for today", "p: pain", "q: end"}
	}
	if m.Neck() {
		texts = append(texts, "dizzy")
	}
	for _, text := range texts {
		if !strings.Contains(seen, squeeze(text)) {
			missing = append(missing, text)
		}
	}
	if missing != nil {
		t.Fatalf("%q is not shown at %d×%d:\n%s", missing, m.width, m.height, ansi.Strip(m.View().Content))
	}
}

// Colour says nothing that is not said without it, and without it there are no
// colour codes.
func TestColor(t *testing.T) {
	bold := strings.NewReplacer("\x1b[1m", "", "\x1b[m", "")
	cyan := strings.NewReplacer("\x1b[36m", "")
	_, models := moments(t)
	colored := false
	for name, m := range models {
		m.width, m.height = 80, 24
		without := bold.Replace(m.View().Content)
		m.paint.color = true
		with := bold.Replace(m.View().Content)
		if strings.Contains(without, "\x1b") {
			t.Errorf("%s: codes without colour: %q", name, without)
		}
		if got := cyan.Replace(with); got != without {
			t.Errorf("%s: not the same with colour and without, but for the colour: %q", name, got)
		}
		colored = colored || with != without
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
		if got := scene.Position(tl, c.step, c.elapsed); math.Abs(got-c.want) > 1e-9 {
			t.Errorf("step %d (%s) after %g s: %g, want %g", c.step, tl.Steps[c.step].Move, c.elapsed, got, c.want)
		}
	}
}

// Calm shows the two ends of a movement, and draws anew once a second.
func TestCalm(t *testing.T) {
	tl := timeline(t, perRep) // as in TestPosition
	glide := find(t, tl, func(s pacer.Step) bool { return s.Move == pacer.Glide })
	for step, want := range map[int]float64{glide - 1: 0, glide: 1, glide + 1: 1, glide + 2: 0, glide + 3: 0} {
		m := showing(tl, step, 300*time.Millisecond)
		m.Calm = true
		if got := m.Page().Hand; got != want {
			t.Errorf("%s: the hand is at %g, want %g", tl.Steps[step].Move, got, want)
		}
		if d := m.Next(); tl.Steps[step].Duration > 2 && d <= scene.Frame {
			t.Errorf("%s: drawn again after %v", tl.Steps[step].Move, d)
		}
	}
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
