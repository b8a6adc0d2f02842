package main

import (
	"fmt"
	"os"
	"strings"
	"testing"

	"glidepace/cmd/glidepace/internal/console"
	"glidepace/devices/screen"
	"glidepace/pacer"
	"glidepace/sessions"
	"glidepace/sounds"
	"glidepace/sounds/voice"
)

// A reminder on the screen is said in the same repetition, in the same words. No
// other reminder is said.
func TestScreenAndVoiceRemindAlike(t *testing.T) {
	src, err := os.Open("../../testdata/sessions/first-week.yaml")
	if err != nil {
		t.Fatal(err)
	}
	defer src.Close()
	s, err := sessions.Parse(src.Name(), src)
	if err != nil {
		t.Fatal(err)
	}
	line, err := pacer.New(s)
	if err != nil {
		t.Fatal(err)
	}
	reminders := map[string]string{"shoulder-low": "shoulder low", "breath-flows": "let the breath flow"} // by cue

	var out strings.Builder
	lines := screen.NewLines(&out)
	shown := map[string]string{} // by side and repetition
	for i, step := range line.Steps {
		out.Reset()
		lines.Follow(pacer.Event{Kind: pacer.Stepped, Timeline: line, Step: i})
		for _, r := range reminders {
			if strings.Contains(out.String(), r) {
				shown[fmt.Sprint(step.Side, step.Rep)] = r
			}
		}
	}

	words, err := voice.FindLanguage("en")
	if err != nil {
		t.Fatal(err)
	}
	clips := map[string]voice.Clip{}
	for _, c := range words.Cues(s) {
		clips[c.Name] = make(voice.Clip, 24000) // half a second
	}
	said := map[string]string{}
	for _, c := range voice.New(words, clips).Schedule(line, sounds.Tail.Seconds()).Said {
		if r := reminders[c.Cue.Name]; r != "" {
			step := line.Steps[line.At(pacer.Seconds(float64(c.At)/48000))]
			said[fmt.Sprint(step.Side, step.Rep)] = strings.ToLower(strings.TrimSuffix(c.Cue.Text, "."))
			if r != said[fmt.Sprint(step.Side, step.Rep)] {
				t.Errorf("%q is said, %q shown", c.Cue.Text, r)
			}
		}
	}
	if want := fmt.Sprint(map[string]string{"right 3": "shoulder low", "right 6": "let the breath flow"}); fmt.Sprint(shown) != want || fmt.Sprint(said) != want {
		t.Errorf("shown %v, said %v, want %s", shown, said, want)
	}
}

// One line says how many cues there is no time for, or which, movements first; and
// what would help.
func TestNoTimeToSay(t *testing.T) {
	start := leftOut{Cue: voice.Cue{Name: "median-wrist-start-4", Text: "The wrist is in line."}, Times: 1, First: 93, SetUp: 18}
	warning := leftOut{Cue: voice.Cue{Name: "stop-if", Text: "Pain: stop."}, Times: 1, First: 93, SetUp: 20}
	breath := leftOut{Cue: voice.Cue{Name: "breathe-out", Text: "Breathe out."}, Times: 2, First: 111}
	move := leftOut{Cue: voice.Cue{Name: "median-neck-back", Text: "Head upright, bend wrist back"}, Times: 10, First: 115, Movement: true}
	for _, c := range []struct {
		left        []leftOut
		brief, full string
	}{
		{nil, "", ""},
		{[]leftOut{start, start}, "no time for 2 of 9 cues: give a set_up of 18s", "all of the start position (a set-up of 18s is enough)"},
		{[]leftOut{start, warning}, "no time for 2 of 9 cues: give a set_up of 20s", "all of the start position and when to stop (a set-up of 20s is enough)"},
		{[]leftOut{breath}, "no time for 2 of 9 cues: only a slower breath gives more", `"Breathe out", 2 times from 1:51 on (the pace is too fast for it)`},
		{[]leftOut{warning, breath, move}, "no time for 13 of 20 cues: a set_up of 20s gives time for 1, a slower breath for more",
			`when to stop (a set-up of 20s is enough); "Head upright, bend wrist back" and 1 more, 12 times from 1:51 on (the pace is too fast for it)`},
	} {
		r := soundReport{Said: 7, LeftOut: c.left}
		brief := strings.Join(console.Lines(200, func(p *console.Printer) { r.writeLeftOut(p) }), "\n")
		if brief = strings.TrimPrefix(brief, "voice            "); brief != c.brief || r.leftOut() != c.full {
			t.Errorf("%s\nwant %s\n%s\nwant %s", brief, c.brief, r.leftOut(), c.full)
		}
	}
}

// What is said in brief of a usual file fits in 24 lines, the command and the next
// prompt included.
func TestCheckFitsAScreen(t *testing.T) {
	for _, name := range []string{"one-minute", "first-week", "both-hands", "working-up"} {
		var out strings.Builder
		if code := run([]string{"check", "../../testdata/sessions/" + name + ".yaml"}, nil, &out, &out); code != console.ExitDone {
			t.Fatalf("%s: code %d", name, code)
		}
		if n := strings.Count(out.String(), "\n"); n > 22 {
			t.Errorf("%s: %d lines, want 22 at most:\n%s", name, n, out.String())
		}
	}
}
