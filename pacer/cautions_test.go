package pacer_test

import (
	"fmt"
	"strings"
	"testing"

	"glidepace/pacer"
	"glidepace/sessions"
	"glidepace/sessions/cautions"
	"glidepace/sessions/glides"
)

var softLimits = []limit{
	// Bounds of comfort: common practice, no source, but where one is named.
	{"rate, slow", "breath: {rate: «%s», pause: 0s, ratio: \"1:1.3\"}" + once, "4", "3.9", "breaths a minute: outside"},
	{"rate, fast", "breath: {" + perRep + ", rate: «%s», pause: 0s, ratio: \"1:2.2\"}" + once, "20", "20.1", "breaths a minute: outside"},
	{"rate of given phases", "breath: {inhale: «%s», exhale: 8s, pause: 500ms}" + once, "6s", "6.6s", "breaths a minute: outside"},
	{"rate of the taper", "breath: {rate: 5, taper: {from: «%s», breaths: 9}}" + once, "4", "3.9", "breaths a minute: outside"},
	{"exhale", "breath: {inhale: 4s, exhale: «%s»}" + once, "8s", "8001ms", "exhale"},
	{"exhale of a ratio", "breath: {rate: «6», ratio: \"1:%s\", pause: 0s}" + once, "4", "4.1", "exhale"},
	{"inhale", "breath: {inhale: «%s», exhale: 4s}" + once, "6s", "6001ms", "inhale"},
	{"inhale of the taper", "breath: {rate: 6, taper: {from: «%s», breaths: 9}, pause: 0s}" + once, "5", "4.9", "inhale"},
	{"taper step, slower", "breath: {rate: 10, «taper»: {from: %s, breaths: 1}}" + once, "10.5", "10.51", "the patient may notice the step; 2 breaths would do"},
	{"taper step, faster", "breath: {rate: 10.5, «taper»: {from: %s, breaths: 1}}" + once, "10", "9.99", "the patient may notice the step; 2 breaths would do"},
	// How many would do: 1.5^(1/8) is 1.0520, 1.5^(1/9) 1.0461; 2^(1/14) is 1.0508, 2^(1/15) 1.0473.
	{"taper step of several", "breath: {rate: 8, «taper»: {from: 12, breaths: %s}}" + once, "9", "8", "; 9 breaths would do"},
	{"taper step of many", "breath: {rate: 14, «taper»: {from: 7, breaths: %s}}" + once, "15", "14", "; 15 breaths would do"},
	{"taper past the lead-in", "breath: {rate: 8, taper: {from: 12, breaths: «%s»}}\nlead_in: {breaths: 9}" + once, "9", "10", "still changes"},
	{"taper past the session", "breath: {rate: 8, taper: {from: 9, breaths: «%s»}}\nlead_in: {breaths: 9}" + once, "11", "12", "never reached"},
	{"movement out", "breath: {inhale: 3s, exhale: «%s»}" + once, "2s", "1999ms", "movement"},
	{"movement back", "breath: {inhale: «%s», exhale: 3s}" + once, "2s", "1999ms", "movement"},
	{"movement on an exhale", "breath: {" + perRep + ", inhale: 3s, exhale: «%s»}" + once, "4.5s", "4499ms", "movement"},
	{"movement with two pauses", "breath: {" + perRep + ", inhale: 3s, exhale: «%s»}" + both, "5s", "4999ms", "movement"},
	{"movement out, slow", "breath: {inhale: 4s, exhale: «%s»}" + once, "8s", "8001ms", "slow stretch"},
	{"movement back, slow", "breath: {inhale: «%s», exhale: 4s}" + once, "8s", "8001ms", "slow stretch"},
	{"floor of easing", "breath: {rate: «%s»}" + once, "6.01", "6", "6 breaths a minute is at or under the floor of easing, 6: after symptoms it cannot go slower, only smaller, and fewer"},
	{"floor of easing, another", "breath: {rate: «%s»}" + once + "ease: {floor: 8, fewer_reps: 0}\n", "8.01", "7.9", "it cannot go slower, only smaller"},
	{"floor of given phases", "breath: {inhale: «%s», exhale: 5s, pause: 500ms}" + once, "4499ms", "4.5s", "floor of easing"}, // 10 s at 4.5 s
	{"floor of easing after a taper", "breath: {rate: «%s», taper: {from: 9, breaths: 9}}\nlead_in: {breaths: 9}" + once, "6.01", "6", "floor of easing"},
	{"sessions a day", "dose: {per_day: «%s»}\nbreath: {rate: 6}" + once, "3", "4", "irritate"},
	{"sessions a day, a range", "dose: {per_day: «%s»}\nbreath: {rate: 6}" + once, "1-3", "1-4", "irritate"},
	{"repetitions", "breath: {rate: 6}\nexercises: [{glide: median-wrist, side: right, reps: «%s»}]", "10", "11", "worked up to"},
	// Patients do best with few exercises, 2 to 4: Bachmann et al. 2018, doi 10.1055/s-0043-120527.
	{"exercises", "breath: {rate: 6}\n«exercises»: [" + own + strings.Repeat(", "+own, 3) + "%s]", "", ", " + own, "do best with"},
	// 10 repetitions of 5 + 6.5 s and an inhale of 5 s: 120 s.
	{"raised arm", "breath: {inhale: 5s, exhale: %s, pause: 0s}" + raised, "6500ms", "6501ms", "raised"},
	// 4 breaths of 10 s, 10 sets of 10·10 + 5 s, 9 rests of 10 s, 20 s: 1200 s.
	{"length", "posture: none\nbreath: {rate: 6, pause: 0s}\nlead_in: {breaths: 4}\n" +
		"«exercises»: [{own: {name: slide, start: low, out: up, back: down}, side: right, sets: 10, reps: 10, rest: 10s, set_up: %s}]\n",
		"20s", "20001ms", "20 minutes"},
}

func TestCautions(t *testing.T) {
	about := func(found []sessions.Problem, says string) (list []sessions.Problem) {
		for _, p := range found {
			if strings.Contains(p.Text, says) {
				list = append(list, p)
			}
		}
		return list
	}
	for _, l := range softLimits {
		t.Run(l.name, func(t *testing.T) {
			tl, _ := mustRead(t, fmt.Sprintf(l.file, l.inside))
			if list := about(pacer.Cautions(tl), l.says); len(list) > 0 {
				t.Errorf("%s is inside and has a caution: %v", l.inside, list)
			}
			tl, at := mustRead(t, fmt.Sprintf(l.file, l.outside))
			wantFinding(t, l.outside, about(pacer.Cautions(tl), l.says), at, l.says)
		})
	}
}

// A plain session asks for no special care.
func TestNoCautions(t *testing.T) {
	tl, _ := mustRead(t, "«dose»: {per_day: 1-3, weeks: 6}\nbreath: {rate: 8, ratio: \"1:1.5\", taper: {from: 12, breaths: 9}}\nlead_in: {breaths: 9}\n"+
		"exercises: [{glide: median-wrist, side: right, reps: 10}]\n")
	if list := pacer.Cautions(tl); len(list) > 0 {
		t.Errorf("cautions %v", list)
	}
}

// What the library says of a glide stands at the glide's name; an arm that is
// not raised may move for as long as it likes.
func TestCautionsOfTheLibrary(t *testing.T) {
	found := 0
	for _, g := range glides.All() {
		tl, at := mustRead(t, "breath: {inhale: 5s, exhale: 8s}\nease: {floor: 4}\nexercises:\n  - {glide: median-wrist, side: left, reps: 3}\n  - {glide: «"+g.Name+"», side: right, reps: 10}\n")
		var list []string
		raised := false
		for _, c := range pacer.Cautions(tl) {
			switch {
			case strings.Contains(c.Text, "raised"):
				raised = true
			case c.Place == at:
				list = append(list, c.Text)
			default:
				t.Errorf("%s: a caution elsewhere: %v", g.Name, c)
			}
		}
		var want []string
		for _, text := range []string{g.Caution, g.Review} {
			if text != "" {
				want = append(want, g.Name+": "+text)
				found++
			}
		}
		if g.Neck {
			want = append(want, g.Name+": ask first: "+cautions.AskNeck)
		}
		if got, want := strings.Join(list, "\n"), strings.Join(want, "\n"); got != want {
			t.Errorf("%s: cautions %q, want %q", g.Name, got, want)
		}
		if raised != g.Raised {
			t.Errorf("%s: a caution for a raised arm: %v, want %v", g.Name, raised, g.Raised)
		}
	}
	if found == 0 {
		t.Error("no glide of the library has a caution: nothing was tested")
	}
}

// A file's own glide that moves the head has the cautions of the neck as well as its own.
func TestCautionsOfAnOwnNeckGlide(t *testing.T) {
	tl, at := mustRead(t, "breath: {rate: 8}\nexercises:\n  - «own»: {name: Nod, start: head up, out: nod, back: up again, neck: true, caution: only 100 % seated}\n    side: right\n    reps: 5\n")
	want := []string{"Nod: " + cautions.NeckGlide(), "Nod: only 100 % seated", "Nod: ask first: " + cautions.AskNeck}
	got := pacer.Cautions(tl)
	if len(got) != len(want) {
		t.Fatalf("cautions %v, want %q", got, want)
	}
	for i, c := range got {
		if c.Text != want[i] || c.Place != at {
			t.Errorf("%v, want %q at %v", c, want[i], at)
		}
	}
}

// One finding a cause, however many steps and sides show it.
func TestFindingsAreNotRepeated(t *testing.T) {
	tl, _ := mustRead(t, "breath: {inhale: «6.5s», exhale: 8.5s, pause: 900ms}\nlead_in: {breaths: 3}\n"+
		"exercises: [{glide: median-wrist, side: both, sets: 3, reps: 10, set_up: 0s, rest: 0s}]\n")
	seen := map[string]bool{}
	for _, c := range pacer.Cautions(tl) {
		if seen[c.Text] {
			t.Errorf("twice: %s", c.Text)
		}
		seen[c.Text] = true
	}
	if len(seen) != 6 { // rate, floor of easing, inhale, exhale, slow movement, raised arm
		t.Errorf("%d cautions, want 6: %v", len(seen), seen)
	}
}

// A glide in the clinician's own words is spoken and shown as it is: one that
// asks for a hold has a caution.
func TestCautionOfOwnWords(t *testing.T) {
	for text, want := range map[string]string{
		"Hold it for five seconds.":           `"hold"`,
		"hold, held, HOLDING, hold":           `"hold", "held", "holding"`,
		"Breathe deeply while you go.":        `"deeply"`,
		"Stretch it until it is stretched.":   `"stretch", "stretched"`,
		"a push, pushing":                     `"push", "pushing"`,
		"Pull, as you pulled.":                `"pull", "pulled"`,
		"no force, nothing forced, forcing":   `"force", "forced", "forcing"`,
		"The household table.":                "",
		"the forearm in a pullover, foremost": "",
	} {
		tl, _ := mustRead(t, "breath: {rate: 8}\nexercises: [{«own»: {name: N, start: S, out: O, back: '"+text+"'}, side: left, reps: 3}]\n")
		var got string
		for _, c := range pacer.Cautions(tl) {
			got += c.Text
		}
		if want == "" && got != "" || want != "" && !strings.HasPrefix(got, "the text says "+want+": ") {
			t.Errorf("%q: cautions %q, want one of the words %s", text, got, want)
		}
	}
}
