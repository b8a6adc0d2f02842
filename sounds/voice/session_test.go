package voice

import (
	"bytes"
	"fmt"
	"os"
	"slices"
	"strconv"
	"strings"
	"testing"

	"glidepace/pacer"
	"glidepace/sessions"
	"glidepace/sessions/glides"
)

// asSpoken returns a voice that takes as long for each cue as espeak-ng 1.51
// does at 150 words a minute.
func asSpoken(t *testing.T, line *pacer.Timeline) *Voice {
	seconds := spokenSeconds(t)
	return speaking(t, line, func(c Cue) float64 {
		s, ok := seconds[c.Text]
		if !ok {
			t.Fatalf("testdata/seconds.txt has no length of %q: add it with the length 0, then go test -tags real -run RealSeconds ./sounds/clips -update", c.Text)
		}
		return s
	})
}

// spokenSeconds returns the lengths kept in testdata, by text.
func spokenSeconds(t *testing.T) map[string]float64 {
	file, err := os.ReadFile("testdata/seconds.txt")
	if err != nil {
		t.Fatal(err)
	}
	seconds := map[string]float64{}
	for l := range strings.Lines(string(file)) {
		number, text, _ := strings.Cut(strings.TrimSpace(l), " ")
		if seconds[text], err = strconv.ParseFloat(number, 64); err != nil {
			t.Fatal(err)
		}
	}
	return seconds
}

// wholeSessions returns whole sessions: the examples, and each glide of the library on
// either match, at rates and ratios of all kinds, with a taper.
func wholeSessions(t *testing.T) map[string]*pacer.Timeline {
	lines := map[string]*pacer.Timeline{}
	for _, name := range []string{"first-week.yaml", "sixth-week.yaml", "one-minute.yaml", "working-up.yaml"} {
		src, err := os.ReadFile("../../testdata/sessions/" + name)
		if err != nil {
			t.Fatal(err)
		}
		lines[name] = laid(t, string(src))
	}
	for _, glide := range glides.Names() {
		far := "half"
		if glide == "median-neck" { // its set-up has time for its caution, but not for this too
			far = "full"
		}
		for match, rates := range map[string][]float64{"exhale-on-glide": {4.5, 6, 8, 12}, "breath-per-rep": {4.5, 6, 8}} {
			for _, rate := range rates {
				for _, ratio := range []string{"1:1", "1:1.5"} {
					for _, posture := range []string{"full", "short"} {
						name := fmt.Sprintf("%s %s %v %s %s", glide, match, rate, ratio, posture)
						lines[name] = laid(t, fmt.Sprintf(`glidepace: 1
title: T
breath: {match: %s, rate: %v, ratio: "%s", taper: {from: %v, breaths: 8}}
posture: %s
lead_in: {breaths: 8}
exercises: [{glide: %s, side: both, sets: 2, reps: 10, range: %s}]
`, match, rate, ratio, 1.4*rate, posture, glide, far))
					}
				}
			}
		}
	}
	return lines
}

func laid(t tester, src string) *pacer.Timeline {
	s, err := sessions.Parse("x.yaml", strings.NewReader(src))
	if err != nil {
		t.Fatal(err)
	}
	line, err := pacer.New(s)
	if err != nil {
		t.Fatal(err)
	}
	return line
}

// in returns what is said in step i.
func (p Schedule) in(line *pacer.Timeline, i int) (said []Said) {
	for _, s := range p.Said {
		if line.At(pacer.Seconds(float64(s.At)/rate)) == i {
			said = append(said, s)
		}
	}
	return said
}

// end returns when a cue is over, in seconds.
func (s Said) end() float64 { return float64(s.At+len(s.Clip)) / rate }

func (s Said) String() string { return fmt.Sprintf("%s at %.2f", s.Cue.Name, float64(s.At)/rate) }

// named reports whether c is a cue, or a shorter way to say it.
func (c Cue) named(name string) bool { return strings.TrimSuffix(c.Name, "-short") == name }

// Nothing but "in" and "out" is said over a paced breath of the lead-in, and
// each breath has both; posture is told before, all of it.
func TestPostureFirstThenTheBreath(t *testing.T) {
	for name, line := range wholeSessions(t) {
		p := asSpoken(t, line).Schedule(line, tail)
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

// A movement is said before all else in its step, in every repetition, and is
// over in the first half, or is said in its shortest way; the number comes
// next, and the breath last and in the first half too.
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
		p := asSpoken(t, line).Schedule(line, tail)
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

const neckSession = "glidepace: 1\ntitle: T\nbreath: {rate: 6}\nposture: %s\nlead_in: {breaths: 2}\n%sexercises:\n  - {glide: median-wrist, side: left, reps: 2}\n  - {%s, side: both, sets: 2, reps: 3}\n"

const ownNeck = "own: {name: Tip, start: Head up., out: Tip., back: Up., neck: true}"

// A session with a neck glide warns of it in the set-up, whatever its length;
// then, and once, says when to stop.
func TestNeckIsWarnedOf(t *testing.T) {
	for _, glide := range []string{"glide: median-neck", ownNeck} {
		for posture, setUps := range map[string][]string{
			"full": {"", "set_up: 8s\n", "set_up: 5s\n"}, "short": {"", "set_up: 8s\n"}, "none": {"", "set_up: 5s\n"},
		} {
			for _, setUp := range setUps {
				line := laid(t, fmt.Sprintf(neckSession, posture, setUp, glide))
				var warned []string
				for i, s := range line.Steps {
					for _, c := range asSpoken(t, line).Schedule(line, tail).in(line, i) {
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

// What goes on after symptoms begins with how it is gentler, as it is, and the
// start position; then, once a set, "not as far", and never half the way.
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
		if said := asSpoken(t, eased).Schedule(eased, tail).in(eased, 0); len(said) < 2 || said[0].Cue.Name != c.want || said[1].Cue.Name != "sit-tall" {
			t.Errorf("rate %v, stopped in the lead-in: %v", c.rate, said)
		}
		for k, s := range line.Steps {
			if s.Move != pacer.Glide || s.Rep > 1 {
				continue
			}
			eased := line.GoOnEased(k)
			p := asSpoken(t, eased).Schedule(eased, tail)
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
				for _, s := range asSpoken(t, on).Schedule(on, tail).Said {
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

// Taking one's place in short: on a seat where a glide wants one.
func TestPlaceInShort(t *testing.T) {
	for glide, want := range map[string]string{
		"glide: median-wrist": "stand-tall", "glide: median-neck": "sit-tall", "glide: median-fingers": "sit-tall", ownNeck: "sit-tall",
	} {
		line := laid(t, "glidepace: 1\ntitle: T\nbreath: {rate: 6}\nposture: short\nlead_in: {breaths: 2}\nexercises: [{"+glide+", side: left, reps: 2}]\n")
		var said []string
		for _, c := range asSpoken(t, line).Schedule(line, tail).in(line, 0) {
			said = append(said, c.Cue.Name)
		}
		if want := []string{want, "lap", "breathe-softly"}; !slices.Equal(said, want) {
			t.Errorf("%s: %v, want %v", glide, said, want)
		}
	}
}

// No caption says again what stands: the arms in the lap, a caution, a
// sentence of the posture.
func TestCaptionsSayAStandingTextOnce(t *testing.T) {
	for name, line := range wholeSessions(t) {
		var out bytes.Buffer
		if err := english(t).WriteCaptions(&out, line, tail); err != nil {
			t.Fatal(err)
		}
		w := english(t)
		once := []string{w.Words["stop-if"]}
		if line.Session().LeadIn > 0 {
			once = append(once, w.Words["lap"])
		}
		if line.Neck() {
			once = append(once, w.Words["neck-stop"])
		}
		for _, c := range w.glide(line.Session(), 0).posture {
			if line.PostureTexts() != nil && line.Steps[0].Move == pacer.Posture {
				once = append(once, c.Text)
			}
		}
		for _, text := range once {
			if n := strings.Count(strings.ToLower(out.String()), strings.ToLower(vttText(text))); n != 1 {
				t.Errorf("%s: %q stands in %d captions", name, text, n)
			}
		}
		sets := line.Sets()
		for _, s := range w.glide(line.Session(), 0).start {
			sides := map[string]bool{}
			for _, set := range sets {
				sides[fmt.Sprint(set.Exercise, set.Side)] = true
			}
			if n := strings.Count(out.String(), vttText(s.Text)); n == 0 || n > len(sides) {
				t.Errorf("%s: %q stands in %d captions", name, s.Text, n)
			}
		}
	}
}
