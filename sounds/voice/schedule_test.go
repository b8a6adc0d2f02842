package voice

import (
	"cmp"
	"fmt"
	"regexp"
	"slices"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"glidepace/pacer"
)

// What a session of two repetitions says, as somebody hears it.
func TestWhatASessionSays(t *testing.T) {
	line := laid(t, `glidepace: 1
title: Two
breath: {rate: 6, ratio: "1:1.5"}
lead_in: {breaths: 4}
set_up: 20s
exercises:
  - {glide: median-wrist, side: both, sets: 1, reps: 2, rest: 20s}
`)
	var got strings.Builder
	p := schedule(t, line)
	for i, s := range p.Said {
		gap := "\n"
		if i > 0 && s.At-p.Said[i-1].At-len(p.Said[i-1].Clip) <= pacer.Frame(between, rate) {
			gap = " "
		}
		if gap == "\n" {
			fmt.Fprintf(&got, "\n%s ", pacer.Clock(float64(s.At)/rate))
		} else {
			got.WriteString(gap)
		}
		got.WriteString(strings.TrimSuffix(s.Cue.Text, ".") + ".")
	}
	const want = `
0:00 Take your place. Sitting or standing. Weight even on both sides of your seat, or on both feet if you stand. The pelvis is level. Leave the small natural hollow in your low back, neither slumped nor arched. Let the breastbone rise a little. The ribs stay soft. Let both shoulder blades slide down, a little toward each other, without squeezing. Chin level and drawn back a little, so that the ears are above the shoulders. Be tall, as if a thread lifted the top of your head. Easy, not stiff. Arms resting in your lap. Breathe softly.
0:39 Breathe in.
0:43 Breathe out.
0:49 Breathe in.
0:53 Breathe out.
0:59 Breathe in.
1:03 Breathe out.
1:09 Breathe in.
1:13 Breathe out.
1:19 Right side. Let the arm float out to the side, away from your body, at a comfortable height. The elbow is almost straight and easy. Turn the palm to face forward, the way you are looking. The wrist is in line with the forearm and the fingers are loose. Pain or strong tingling: stop.
1:39 Palm forward. Breathe in.
1:43 Bend the wrist back. One. Breathe out.
1:49 Let the hand relax. Now the last one.
1:53 Bend the wrist back. Two. Breathe out.
1:59 Let the hand relax. In.
2:03 Rest. Let the arm hang and loosen it.
2:23 Now the other side. Left side. Let the arm float out to the side, away from your body, at a comfortable height. The elbow is almost straight and easy. Turn the palm to face forward, the way you are looking. The wrist is in line with the forearm and the fingers are loose.
2:43 Palm forward. Breathe in.
2:47 Bend the wrist back. One. Breathe out.
2:53 Let the hand relax. Now the last one.
2:57 Bend the wrist back. Two. Breathe out.
3:03 Let the hand relax. In.
3:07 Done. Let the arm hang and loosen it.`
	if got.String() != want {
		t.Errorf("got:%s\nwant:%s", got.String(), want)
	}
}

var movement = regexp.MustCompile(`-(out|back)(-short)?$`)

// However long words take: none overlaps another, each phrase starts with a
// step (40 ms after it, on the way back 90 ms later), or shortly before the end
// of a rest, and is over by its step's end; what says what to do is over in the
// first half, except the shortest way.
func TestWordsKeepToTheirSteps(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		line := anyLine(t)
		lengths := map[string]float64{}
		v := speaking(t, line, func(c Cue) float64 {
			if _, ok := lengths[c.Name]; !ok {
				longest := 4.0
				if strings.HasPrefix(c.Name, "rest") {
					longest = 30 // as long as a recording may be
				}
				lengths[c.Name] = rapid.Float64Range(0, longest).Draw(t, c.Name)
			}
			return lengths[c.Name]
		})
		ends := map[int]int{} // of a step, by the frame at which its words begin
		for _, s := range line.Steps {
			lead := before
			if s.Move == pacer.Return {
				lead = before + 0.09
			}
			if s.Breath != pacer.BreathPause && s.Move != pacer.MovePause {
				ends[pacer.Frame(s.Start+lead, rate)] = pacer.Frame(s.End(), rate)
			}
		}
		ends[pacer.Frame(line.Duration+before, rate)] = pacer.Frame(line.Duration+tail, rate)
		p := v.Schedule(line, tail)
		end, until := 0, 0 // of the last word; of the step it belongs to
		for _, s := range p.Said {
			if s.At < end {
				t.Fatalf("%q at %d begins before %d", s.Cue.Text, s.At, end)
			}
			stop, starts := ends[s.At]
			if !starts {
				stop, starts = ends[s.At-1] // two numbers were rounded
			}
			if starts {
				until = stop
			} else if step := line.Steps[line.At(pacer.Seconds(float64(s.At)/rate))]; step.Move == pacer.Shake {
				until = pacer.Frame(step.End(), rate)
			} else if s.At-end > pacer.Frame(between, rate)+1 {
				t.Fatalf("%q starts at %d, where no step that has words does", s.Cue.Text, s.At)
			}
			end = s.At + len(s.Clip)
			if end > until {
				t.Fatalf("%q ends at %d, its step at %d", s.Cue.Text, end, until)
			}
		}
		for i, s := range line.Steps {
			if s.Breath == pacer.Free {
				continue
			}
			said := p.in(line, i)
			if len(said) == 0 || !movement.MatchString(said[0].Cue.Name) || said[0].end() <= s.Start+s.Duration/2+2.0/rate {
				continue
			}
			if clip := v.Clip(said[0].Cue.Name + "-short"); clip != nil && float64(said[0].At+len(clip))/rate+after < s.End() {
				t.Fatalf("%v at %v: the shorter way has time, and is not taken", said, s.Start)
			}
		}
		if !slices.IsSortedFunc(p.LeftOut, func(a, b LeftOut) int { return cmp.Compare(a.At, b.At) }) {
			t.Errorf("what is left out is not in order: %v", p.LeftOut)
		}
	})
}

// A step too short for everything drops words, the least needed first. In an
// exhale of 4 s, what says what to do has 2 s, and everything together 4 s.
func TestShortened(t *testing.T) {
	line := laid(t, "glidepace: 1\ntitle: T\nbreath: {inhale: 4s, exhale: 4s}\nposture: none\nset_up: 0s\nexercises: [{glide: median-wrist, side: right, reps: 3}]\n")
	for _, c := range []struct {
		long, other float64 // of “Bend the wrist back”; of all others
		want        string
	}{
		{0.6, 0.5, "median-wrist-out count-1 breathe-out"},       // 0.04 + 0.6 + 2·(0.15 + 0.5) = 1.94
		{0.7, 0.5, "median-wrist-out count-1"},                   // 2.04; and 0.04 + 0.7 + 0.15 + 0.5 + 0.1 = 1.49
		{1.9, 1.8, "median-wrist-out count-1"},                   // 1.94; and 3.99
		{1.9, 1.85, "median-wrist-out"},                          // 4.04
		{2.0, 0.4, "median-wrist-out-short count-1 breathe-out"}, // 2.04
		{3.0, 1.85, "median-wrist-out-short count-1"},            // 1.89; and 3.99
		{3.0, 1.9, "median-wrist-out-short"},                     // 1.94; and 4.09
		{3.0, 2.5, "median-wrist-out-short"},                     // 2.54, and 2.64
		{2.1, 1.7, "median-wrist-out-short count-1"},             // 1.74; and 3.69
		{3.0, 3.9, "median-wrist-out"},                           // 3.14; the short way would take longer
		{3.9, 3.9, ""},                                           // 4.04
	} {
		v := speaking(t, line, func(cue Cue) float64 {
			if cue.Name == "median-wrist-out" {
				return c.long
			}
			return c.other
		})
		p := v.Schedule(line, tail)
		said, left := p.in(line, 1), 0
		for _, l := range p.LeftOut {
			if l.At == 4 {
				left++
			}
		}
		if got := names(said); got != c.want {
			t.Errorf("%v and %v s: said %q, want %q", c.long, c.other, got, c.want)
		}
		// The breath only helps, and is not missed.
		if want := 2 - len(said) + strings.Count(c.want, "breathe"); left != want {
			t.Errorf("%v and %v s: %d are left out, want %d", c.long, c.other, left, want)
		}
	}
}

// How far to move is over in the first half too, if necessary with a shorter way
// to say the movement: that half of an exhale of 4 s is 2 s.
func TestHowFarInTheFirstHalf(t *testing.T) {
	line := laid(t, "glidepace: 1\ntitle: T\nbreath: {inhale: 4s, exhale: 4s}\nposture: none\nset_up: 0s\nexercises: [{glide: median-wrist, side: right, reps: 9, range: most}]\n")
	for long, want := range map[float64]string{
		0.8: "median-wrist-out range-most-short count-1",       // 0.04 + 0.8 + 0.15 + 0.9 = 1.89
		1.0: "median-wrist-out-short range-most-short count-1", // 2.09, and 1.59
	} {
		v := speaking(t, line, func(c Cue) float64 {
			return map[string]float64{"median-wrist-out": long, "median-wrist-out-short": 0.5, "range-most-short": 0.9}[c.Name] + 0.4*float64(strings.Count(c.Name, "count-1"))
		})
		if got := names(v.Schedule(line, tail).in(line, 1)); got != want {
			t.Errorf("%v s: %s, want %s", long, got, want)
		}
	}
}

// Without a set-up, and even without a rest, the side is said before the first
// repetition, and another exercise is announced.
func TestSideWithoutSetUp(t *testing.T) {
	for _, rest := range []string{"0s", "20s"} {
		line := laid(t, fmt.Sprintf(`glidepace: 1
title: T
breath: {rate: 6}
posture: none
set_up: 0s
exercises:
  - {glide: median-wrist, side: both, reps: 2, rest: %s}
  - {glide: ulnar-elbow, side: left, reps: 2}
`, rest))
		var sides []string
		for _, s := range speaking(t, line, atReadingSpeed).Schedule(line, tail).Said {
			if slices.Contains([]string{rightSide, leftSide, changeSide, nextOne}, s.Cue.Name) {
				sides = append(sides, s.Cue.Name)
			}
		}
		if want := []string{rightSide, changeSide, leftSide, nextOne, leftSide}; !slices.Equal(sides, want) {
			t.Errorf("rest %s: said %v, want %v", rest, sides, want)
		}
	}
}

// Where there is no set-up, it is said when to stop as one takes one's place,
// and where that is left out too, what a set-up would have had time for is
// noted, with how long it is.
func TestWithoutSetUp(t *testing.T) {
	const src = "glidepace: 1\ntitle: T\nbreath: {rate: 6}\nposture: %s\nset_up: 0s\nexercises: [{glide: median-neck, side: left, reps: 2}]\n"
	for posture, want := range map[string]int{"full": 1, "short": 0, "none": 0} {
		line := laid(t, fmt.Sprintf(src, posture))
		p := schedule(t, line)
		for _, name := range []string{"neck-stop", "stop-if"} {
			said := strings.Count(names(p.Said)+" ", name+" ")
			left := slices.ContainsFunc(p.LeftOut, func(l LeftOut) bool {
				return l.Cue.Name == name && (l.At == 0 || l.SetUp > 20 && l.SetUp < 25)
			})
			if said != want || left == (said > 0) {
				t.Errorf("posture %s: %s is said %d times, want %d; left out are %v", posture, name, said, want, p.LeftOut)
			}
		}
	}
}

// A cue without a clip leaves the rest to be said.
func TestWithoutSomeClips(t *testing.T) {
	line := read(t, "one-minute.yaml")
	v := speaking(t, line, func(c Cue) float64 {
		if strings.HasPrefix(c.Name, "count") {
			return 0
		}
		return 0.5
	})
	p := v.Schedule(line, tail)
	if !slices.ContainsFunc(p.Said, func(s Said) bool { return s.Cue.Name == "median-wrist-out" }) {
		t.Error("the movement is not said where its number is not recorded")
	}
	// Without the shorter way the movement is said, though late: 1.6 s of an
	// exhale of 2.8 s or more.
	v = speaking(t, line, func(c Cue) float64 {
		if strings.HasSuffix(c.Name, "-short") {
			return 0
		}
		return 1.6
	})
	p = v.Schedule(line, tail)
	for i, s := range line.Steps {
		if said := p.in(line, i); (s.Move == pacer.Glide || s.Move == pacer.Return) && (len(said) == 0 || !movement.MatchString(said[0].Cue.Name)) {
			t.Errorf("%s %d at %.1f says %v", s.Move, s.Rep, s.Start, said)
		}
	}
	if (&Voice{language: english(t)}).Schedule(line, tail).Said != nil {
		t.Error("a voice without clips speaks")
	}
}
