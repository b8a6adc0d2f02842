package voice

import (
	"fmt"
	"slices"
	"strings"
	"testing"

	"glidepace/pacer"
	"glidepace/sessions"
)

// Nothing but "in" and "out" is said over a paced breath of the lead-in, and
// each breath has both; posture is told before, all of it.
func TestPostureFirstThenTheBreath(t *testing.T) {
	for name, line := range wholeSessions(t) {
		p := schedule(t, line)
		for i, s := range line.Steps {
			said := p.in(line, i)
			word := map[pacer.Breath]string{pacer.Inhale: "breathe-in", pacer.Exhale: "breathe-out"}[s.Breath]
			if s.Exercise == 0 && s.Breath != pacer.Free && word != "" {
				if len(said) != 1 || !said[0].Cue.named(word) {
					t.Errorf("%s: the lead-in at %.1f says %v, want %s", name, s.Start, said, word)
				}
			}
			for _, c := range said {
				if s.Breath != pacer.Free && (strings.Contains(c.Cue.Name, "-posture-") || slices.Contains([]string{"take-place", "stand-tall", "sit-tall", "lap"}, c.Cue.Name)) {
					t.Errorf("%s: %q is told over a breath at %.1f", name, c.Cue.Text, s.Start)
				}
			}
		}
		if s := line.Steps[0]; s.Breath == pacer.Free && s.Move == pacer.Posture {
			told := 0
			for _, c := range p.in(line, 0) {
				if strings.Contains(c.Cue.Name, "-posture-") || strings.HasSuffix(c.Cue.Name, "-position") && c.Cue.Name != "start-position" {
					told++
				}
			}
			want := 0
			if line.PostureTexts() != nil {
				want = len(english(t).glide(line.Session(), 0).posture)
			}
			if told != want {
				t.Errorf("%s: %d sentences of the posture are told, want %d", name, told, want)
			}
		}
		for _, l := range p.LeftOut {
			if s := line.Steps[line.At(pacer.Seconds(l.At))]; s.Breath == pacer.Free && l.At < line.Duration && line.Session().Exercises[0].SetUp < 0 &&
				(s.Move == pacer.Posture || line.PostureTexts() != nil) {
				t.Errorf("%s: no time to say %q at %.1f", name, l.Cue.Text, l.At)
			}
		}
	}
}

// In every repetition the movement is said first in its step. It is over in the
// first half, or is said in its shortest way. The number comes next, and the
// breath last, but in the first half too.
func TestMovementFirst(t *testing.T) {
	for name, line := range wholeSessions(t) {
		v := asSpoken(t, line)
		p := v.Schedule(line, tail)
		for i, s := range line.Steps {
			if s.Move != pacer.Glide && s.Move != pacer.Return {
				continue
			}
			said := p.in(line, i)
			way := map[pacer.Move]string{pacer.Glide: "-out", pacer.Return: "-back"}[s.Move]
			names := []string{s.Glide + way, s.Glide + way + "-short"}
			switch lead := map[pacer.Move]float64{pacer.Glide: 0.04, pacer.Return: 0.13}[s.Move]; {
			case line.ExerciseOf(s).Own:
				names = []string{"move" + way}
			case s.Duration < lead+float64(len(v.Clip(names[1])))/rate+0.1: // no time even for the shortest
				names = []string{"move" + way}
			}
			if len(said) == 0 || !slices.Contains(names, said[0].Cue.Name) {
				t.Fatalf("%s: at %.1f of %s %d is said %v, want %s first", name, s.Start, s.Move, s.Rep, said, names)
			}
			half := s.Start + s.Duration/2
			if said[0].end() > half+1.0/rate && said[0].Cue.Name != names[len(names)-1] {
				t.Errorf("%s: %q at %.1f is over %.2f s after half of it", name, said[0].Cue.Text, s.Start, said[0].end()-half)
			}
			for k, c := range said[1:] {
				switch {
				case strings.HasPrefix(c.Cue.Name, "breathe-"):
					if c.end() > half+1.0/rate || k != len(said)-2 {
						t.Errorf("%s: %q at %.1f is not the last, or over after half of it: %v", name, c.Cue.Text, s.Start, said)
					}
				case strings.HasPrefix(c.Cue.Name, "count-") && k > 0 && !strings.HasPrefix(said[k].Cue.Name, "range-"):
					t.Errorf("%s: the number at %.1f comes after %v", name, s.Start, said[k])
				}
			}
		}
	}
}

// How far to move is said once a set, before its second repetition: in the
// set-up or the rest, or where there is no time, with the first movement.
func TestRangeOnceASet(t *testing.T) {
	lines := wholeSessions(t)
	for _, rest := range []string{"0s", "5s", "20s"} {
		for _, setUp := range []string{"0s", "20s"} {
			lines["rest "+rest+", set-up "+setUp] = laid(t, "glidepace: 1\ntitle: T\nbreath: {rate: 6}\nset_up: "+setUp+
				"\nexercises: [{glide: median-neck, side: both, sets: 2, reps: 3, rest: "+rest+", range: most}]\n")
		}
	}
	for name, line := range lines {
		said, back := 0, 0 // back of a set
		p := schedule(t, line)
		for i, s := range line.Steps {
			for _, c := range p.in(line, i) {
				if c.Cue.named("range-half") || c.Cue.named("range-most") {
					said++
					if s.Breath == pacer.Free == (c.Cue.Name != c.Cue.longer()) {
						t.Errorf("%s: %s is said in a %s", name, c.Cue.Name, s.Move)
					}
				}
				if c.Cue.Name == "back-to-start" && line.ExerciseOf(s).Range != sessions.RangeFull {
					back++
				}
			}
			if s.Move == pacer.Glide && s.Rep == 1 {
				want := 1
				if line.ExerciseOf(s).Range == sessions.RangeFull {
					want = 0
				}
				if said != want {
					t.Errorf("%s: how far is said %d times before or in the first movement at %.1f, want %d", name, said, s.Start, want)
				}
				for _, c := range p.in(line, i) {
					if back > 0 && strings.HasPrefix(c.Cue.Name, "range-") {
						t.Errorf("%s: how far is said with a movement, and not in the rest before", name)
					}
				}
				said, back = 0, 0
			}
		}
		if said > 0 {
			t.Errorf("%s: how far is said after the first movement of the last set", name)
		}
	}
}

// A session with a neck glide says when to stop once, in the set-up, whatever its
// length.
func TestNeckIsWarnedOf(t *testing.T) {
	for _, glide := range []string{"glide: median-neck", ownNeck} {
		for posture, setUps := range map[string][]string{
			"full": {"", "set_up: 8s\n", "set_up: 5s\n"}, "short": {"", "set_up: 8s\n"}, "none": {"", "set_up: 5s\n"},
		} {
			for _, setUp := range setUps {
				line := laid(t, fmt.Sprintf(neckSession, posture, setUp, glide))
				var warned []string
				for i, s := range line.Steps {
					for _, c := range schedule(t, line).in(line, i) {
						if slices.Contains([]string{"neck-stop", "dizzy-stop", "stop-if"}, c.Cue.Name) {
							warned = append(warned, fmt.Sprint(s.Move, s.Exercise, " ", c.Cue.Name))
						}
					}
				}
				want := []string{"set-up 1 stop-if", "set-up 2 neck-stop"}
				if setUp == "set_up: 5s\n" { // next exercise, right side, and the short way
					want = []string{"set-up 1 stop-if", "set-up 2 dizzy-stop"}
				}
				if !slices.Equal(warned, want) {
					t.Errorf("%s, posture %s, %q: %v, want %v", glide, posture, setUp, warned, want)
				}
			}
		}
	}
}

// Wherever a session is stopped for symptoms, it goes on by saying how it is
// gentler, and in a set the start position; then, once a set, "not as far", and
// never half the way.
func TestHowItIsGentler(t *testing.T) {
	const src = "glidepace: 1\ntitle: T\nbreath: {rate: %v}\nposture: full\nlead_in: {breaths: 3}\nease: {slower: %s, fewer_reps: %d}\nexercises: [{glide: median-neck, side: both, reps: 4, range: half}]\n"
	for _, c := range []struct {
		rate   float64
		slower string
		fewer  int
		want   string
	}{
		{8, "20%", 2, "gentler"}, {8, "20%", 0, "gentler"},
		{5, "20%", 2, "gentler-fewer"}, {5, "20%", 0, "gentler-smaller"}, {8, "0%", 2, "gentler-fewer"},
	} {
		line := laid(t, fmt.Sprintf(src, c.rate, c.slower, c.fewer))
		eased := line.GoOnEased(1) // in the lead-in: the reminder of one's place is enough
		if said := schedule(t, eased).in(eased, 0); len(said) < 2 || said[0].Cue.Name != c.want || said[1].Cue.Name != "sit-tall" {
			t.Errorf("rate %v, stopped in the lead-in: %v", c.rate, said)
		}
		for k, s := range line.Steps {
			eased := line.GoOnEased(k)
			p := schedule(t, eased)
			for i, s := range p.Said {
				if strings.HasPrefix(s.Cue.Name, "gentler") != (i == 0) {
					t.Errorf("rate %v, stopped in step %d: %q is said as number %d", c.rate, k, s.Cue.Name, i)
				}
			}
			if s.Move != pacer.Glide || s.Rep > 1 {
				continue
			}
			said := p.in(eased, 0)
			if len(said) < 3 || said[0].Cue.Name != c.want || !strings.HasSuffix(said[1].Cue.Name, "-side") || said[2].Cue.Name != "median-neck-start-1" {
				t.Errorf("rate %v, stopped in step %d: the way back says %v, want %s and the start position", c.rate, k, said, c.want)
			}
			far := map[string]int{}
			for _, c := range p.Said {
				far[strings.TrimSuffix(c.Cue.Name, "-short")]++
			}
			for i := range eased.Steps {
				on := eased.GoOn(i) // after a pause
				for _, s := range schedule(t, on).Said {
					if strings.HasPrefix(s.Cue.Name, "gentler") != (s.At < rate && i == 0) {
						t.Errorf("rate %v, stopped in step %d, then paused in step %d: %v", c.rate, k, i, s)
					}
				}
			}
			sets := eased.Sets()
			if far["not-as-far"] != len(sets) || far["range-half"] != 0 {
				t.Errorf("rate %v, stopped in step %d: not as far is said %d times in %d sets, half the way %d times", c.rate, k, far["not-as-far"], len(sets), far["range-half"])
			}
		}
	}
}

// The reminder of one's place says to sit if a glide is done sitting.
func TestTakingPlaceInShort(t *testing.T) {
	for glide, want := range map[string]string{
		"glide: median-wrist": "stand-tall", "glide: median-neck": "sit-tall", "glide: median-fingers": "sit-tall", ownNeck: "sit-tall",
	} {
		line := laid(t, "glidepace: 1\ntitle: T\nbreath: {rate: 6}\nposture: short\nlead_in: {breaths: 2}\nexercises: [{"+glide+", side: left, reps: 2}]\n")
		if said, want := names(schedule(t, line).in(line, 0)), want+" lap breathe-softly"; said != want {
			t.Errorf("%s: %s, want %s", glide, said, want)
		}
	}
}
