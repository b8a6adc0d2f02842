package voice

import (
	"bytes"
	"cmp"
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"pgregory.net/rapid"

	"glidepace/pacer"
	"glidepace/sessions"
	"glidepace/sessions/glides"
)

const tail = 4.0 // seconds

func read(t tester, name string) *pacer.Timeline {
	src, err := os.ReadFile(filepath.Join("../../testdata/sessions", name))
	if err != nil {
		t.Fatal(err)
	}
	return lay(t, string(src))
}

type tester interface {
	Fatal(...any)
	Fatalf(string, ...any)
	Errorf(string, ...any)
}

func lay(t tester, src string) *pacer.Timeline {
	s, err := sessions.Parse("x.yaml", strings.NewReader(src))
	if err != nil {
		t.Fatal(err)
	}
	if s.Posture == sessions.PostureAuto { // these tests begin with what is paced
		s.Posture = sessions.PostureNone
		for i := range s.Exercises {
			if s.Exercises[i].SetUp < 0 {
				s.Exercises[i].SetUp = 15 * time.Second
			}
		}
	}
	line, err := pacer.New(s)
	if err != nil {
		t.Fatal(err)
	}
	return line
}

func english(t tester) *Words {
	w, err := In("en")
	if err != nil {
		t.Fatal(err)
	}
	return w
}

// speaking returns a voice that takes some seconds for each cue; 0 is for none.
func speaking(t tester, line *pacer.Timeline, seconds func(Cue) float64) *Voice {
	v := &Voice{words: english(t), clips: map[string]Clip{}}
	for _, c := range v.words.Cues(line.Session()) {
		if n := pacer.Frame(seconds(c), rate); n > 0 {
			v.clips[c.Name] = make(Clip, n)
		}
	}
	return v
}

// atReadingSpeed is about how long espeak-ng takes at 150 words a minute.
func atReadingSpeed(c Cue) float64 { return 0.2 + 0.062*float64(len(c.Text)) }

// What a session of two repetitions says, as somebody hears it.
func TestWhatASessionSays(t *testing.T) {
	line := lay(t, `glidepace: 1
title: Two
breath: {rate: 6, ratio: "1:1.5"}
lead_in: {breaths: 4}
set_up: 20s
exercises:
  - {glide: median-wrist, side: both, sets: 1, reps: 2, rest: 20s}
`)
	var got strings.Builder
	p := speaking(t, line, atReadingSpeed).Place(line, tail)
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
0:00 Arms resting in your lap. Breathe softly.
0:04 Breathe out.
0:10 Breathe in.
0:14 Breathe out.
0:20 If it hurts or tingles strongly, stop.
0:24 Weight even on both sides of your seat, or on both feet if you stand.
0:30 The pelvis is level.
0:34 Leave the small natural hollow in your low back, neither slumped nor arched.
0:40 Right side. Let the arm float out to the side, away from your body, at a comfortable height. The elbow is almost straight and easy. Turn the palm to face forward, the way you are looking. The wrist is in line with the forearm and the fingers are loose.
1:00 Breathe in. Hand relaxed.
1:04 One. Breathe out. Bend the wrist back.
1:10 Let the hand relax. Now the last one.
1:14 Two. Breathe out. Bend the wrist back.
1:20 Breathe in. Let the hand relax.
1:24 Rest. Let the arm hang and loosen it.
1:44 Now the other side. Left side. Let the arm float out to the side, away from your body, at a comfortable height. The elbow is almost straight and easy. Turn the palm to face forward, the way you are looking. The wrist is in line with the forearm and the fingers are loose.
2:04 Breathe in. Hand relaxed.
2:08 One. Breathe out. Bend the wrist back.
2:14 Let the hand relax. Now the last one.
2:18 Two. Breathe out. Bend the wrist back.
2:24 Breathe in. Let the hand relax.
2:28 Done. Let the arm hang and loosen it.`
	if got.String() != want {
		t.Errorf("got:%s\nwant:%s", got.String(), want)
	}
}

func anyLine(t *rapid.T) *pacer.Timeline {
	line := read(t, rapid.SampledFrom([]string{"first-week.yaml", "sixth-week.yaml", "one-minute.yaml", "working-up.yaml"}).Draw(t, "file"))
	switch rapid.SampledFrom([]string{"whole", "after a pause", "after symptoms"}).Draw(t, "which") {
	case "after a pause":
		return line.GoOn(rapid.IntRange(0, len(line.Steps)).Draw(t, "step"))
	case "after symptoms":
		return line.GoOnEased(rapid.IntRange(0, len(line.Steps)).Draw(t, "step"))
	}
	return line
}

// However long words take: none overlaps another, each phrase starts with a
// step (130 ms after it), or shortly before the end of a rest, and is over by its step's end;
// only the text of the lead-in may go on over further steps of it.
func TestWordsKeepToTheirSteps(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		line := anyLine(t)
		lengths := map[string]float64{}
		v := speaking(t, line, func(c Cue) float64 {
			if _, ok := lengths[c.Name]; !ok {
				lengths[c.Name] = rapid.Float64Range(0, 8).Draw(t, c.Name)
			}
			return lengths[c.Name]
		})
		onsets := map[int]int{} // frame to step
		for i, s := range line.Steps {
			onsets[pacer.Frame(s.Start, rate)+pacer.Frame(before, rate)] = i
		}
		onsets[pacer.Frame(line.Duration, rate)+pacer.Frame(before, rate)] = len(line.Steps)
		p := v.Place(line, tail)
		end, until := 0, 0 // of the last word; of the step it belongs to
		for _, s := range p.Said {
			if s.At < end {
				t.Fatalf("%q at %d begins before %d", s.Cue.Text, s.At, end)
			}
			i, starts := onsets[s.At]
			switch {
			case starts && i == len(line.Steps):
				until = pacer.Frame(line.Duration+tail, rate)
			case starts:
				step := line.Steps[i]
				if step.Breath == pacer.BreathPause || step.Move == pacer.MovePause {
					t.Fatalf("%q is said in a pause", s.Cue.Text)
				}
				until = pacer.Frame(step.End(), rate)
				if step.Exercise == 0 {
					until = pacer.Frame(endOfLeadIn(line), rate)
				}
			default:
				step := line.Steps[line.At(pacer.Seconds(float64(s.At)/rate))]
				if step.Move == pacer.Shake {
					until = pacer.Frame(step.End(), rate)
				} else if s.At-end > pacer.Frame(between, rate)+1 {
					t.Fatalf("%q starts at %d, where no step does", s.Cue.Text, s.At)
				}
			}
			end = s.At + len(s.Clip)
			if end > until {
				t.Fatalf("%q ends at %d, its step at %d", s.Cue.Text, end, until)
			}
		}
		if !slices.IsSortedFunc(p.Left, func(a, b Left) int { return cmp.Compare(a.At, b.At) }) {
			t.Errorf("what is left out is not in order: %v", p.Left)
		}
	})
}

func endOfLeadIn(line *pacer.Timeline) float64 {
	for _, s := range line.Steps {
		if s.Exercise > 0 {
			return s.Start
		}
	}
	return line.Duration
}

// Whatever a session may say is among the cues that are loaded for it, once.
func TestEveryPhraseHasItsCues(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		line, w := anyLine(t), english(t)
		cues := w.Cues(line.Session())
		for _, p := range w.phrases(line, tail) {
			for _, c := range slices.Concat(append(p.ways, p.tells)...) {
				if !slices.Contains(cues, c) {
					t.Fatalf("%v is said and not among the cues", c)
				}
			}
		}
		names := map[string]bool{}
		for _, c := range cues {
			if names[c.Name] {
				t.Fatalf("two cues %q", c.Name)
			}
			names[c.Name] = true
		}
	})
}

// A step too short for all it could say drops words, the least needed first.
func TestShortened(t *testing.T) {
	line := lay(t, "glidepace: 1\ntitle: T\nbreath: {inhale: 2s, exhale: 2s}\nset_up: 0s\nexercises: [{glide: median-wrist, side: right, reps: 3}]\n")
	for seconds, want := range map[float64]string{
		0.4:  "count-1 breathe-out median-wrist-out",
		0.48: "count-1 breathe-out median-wrist-out",
		0.5:  "count-1 median-wrist-out",
		0.8:  "count-1 median-wrist-out",
		1.5:  "breathe-out",
		1.7:  "breathe-out",
		1.8:  "",
	} {
		v := speaking(t, line, func(Cue) float64 { return seconds })
		p := v.Place(line, tail)
		var said, left []string
		for _, s := range p.Said {
			if at := float64(s.At) / rate; at >= 2 && at < 4 {
				said = append(said, s.Cue.Name)
			}
		}
		for _, l := range p.Left {
			if l.At == 2 {
				left = append(left, l.Cue.Name)
			}
		}
		if got := strings.Join(said, " "); got != want {
			t.Errorf("words of %v s: said %q, want %q", seconds, got, want)
		}
		if len(said)+len(left) != 3 {
			t.Errorf("words of %v s: %v said, %v left out", seconds, said, left)
		}
	}
}

// Wherever a session is stopped for symptoms: when it goes on, it is said that
// it is gentler, and, with the first movement out, not as far.
func TestEasedIsSaid(t *testing.T) {
	line := lay(t, `glidepace: 1
title: Eased
breath: {rate: 8, ratio: "1:1.5"}
lead_in: {breaths: 3}
exercises: [{glide: median-wrist, side: right, reps: 4, sets: 2}]
`)
	for i := range line.Steps {
		eased := line.GoOnEased(i)
		said := map[string]int{}
		outs := 0
		for _, s := range eased.Steps {
			if s.Move == pacer.Glide {
				outs++
			}
		}
		for _, s := range speaking(t, eased, atReadingSpeed).Place(eased, tail).Said {
			said[s.Cue.Name]++
		}
		if outs > 0 && (said[gentler] != 1 || said[notAsFar] != 1) {
			t.Errorf("stopped in step %d: gentler is said %d times, not as far %d", i, said[gentler], said[notAsFar])
		}
	}
}

// Without a set-up, and without a rest too, the side is said before the first
// repetition all the same; another exercise is announced.
func TestSideWithoutSetUp(t *testing.T) {
	for _, rest := range []string{"0s", "20s"} {
		line := lay(t, fmt.Sprintf(`glidepace: 1
title: T
breath: {rate: 6}
set_up: 0s
exercises:
  - {glide: median-wrist, side: both, reps: 2, rest: %s}
  - {glide: ulnar-elbow, side: left, reps: 2}
`, rest))
		var sides []string
		for _, s := range speaking(t, line, atReadingSpeed).Place(line, tail).Said {
			if slices.Contains([]string{rightSide, leftSide, changeSide, nextOne}, s.Cue.Name) {
				sides = append(sides, s.Cue.Name)
			}
		}
		if want := []string{rightSide, changeSide, leftSide, nextOne, leftSide}; !slices.Equal(sides, want) {
			t.Errorf("rest %s: said %v, want %v", rest, sides, want)
		}
	}
}

// However long the lead-in is: when to stop is said once, and each posture is
// told, or noted as left out.
func TestWarnedAndTold(t *testing.T) {
	for breaths := range 12 {
		line := lay(t, fmt.Sprintf(`glidepace: 1
title: T
breath: {rate: 8}
lead_in: {breaths: %d}
exercises:
  - {glide: median-wrist, side: both, reps: 2}
  - {glide: ulnar-elbow, side: right, reps: 2, rest: 60s}
`, breaths))
		p := speaking(t, line, atReadingSpeed).Place(line, tail)
		warned, told := 0, map[Cue]int{}
		for _, s := range p.Said {
			told[s.Cue]++
			if s.Cue.Name == stopIf {
				warned++
			}
		}
		if warned != 1 {
			t.Errorf("lead-in of %d breaths: when to stop is said %d times", breaths, warned)
		}
		for _, l := range p.Left {
			told[l.Cue]++
		}
		for i := range line.Session().Exercises {
			for _, c := range english(t).glide(line.Session(), i).posture {
				if told[c] != 1 {
					t.Errorf("lead-in of %d breaths: %q is told or left out %d times", breaths, c.Text, told[c])
				}
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
	p := v.Place(line, tail)
	if !slices.ContainsFunc(p.Said, func(s Said) bool { return s.Cue.Name == "median-wrist-out" }) {
		t.Error("the movement is not said where its number is not recorded")
	}
	if (&Voice{words: english(t)}).Place(line, tail).Said != nil {
		t.Error("a voice without clips speaks")
	}
}

func TestLanguages(t *testing.T) {
	for _, code := range Languages() {
		w, err := In(code)
		if err != nil {
			t.Fatal(err)
		}
		if w.Language != code || w.Espeak == "" {
			t.Errorf("%s: language %q, voice %q", code, w.Language, w.Espeak)
		}
		for _, name := range wordNames {
			if w.Words[name] == "" {
				t.Errorf("%s has no word for %s", code, name)
			}
		}
		if len(w.Words) != len(wordNames) {
			t.Errorf("%s has %d words, %d are used", code, len(w.Words), len(wordNames))
		}
		if len(w.Counts) != mostReps || slices.Contains(w.Counts, "") {
			t.Errorf("%s has %d numbers, a set may have %d repetitions", code, len(w.Counts), mostReps)
		}
		for _, name := range glides.Names() {
			g, own := w.Glides[name]
			if code == "en" {
				g, own = glides.Find(name)
			}
			if !own || g.Start == "" || g.Out == "" || g.Back == "" || slices.Contains([]string{g.Cues.Start, g.Cues.Out, g.Cues.Back, g.Posture.Pelvis,
				g.Posture.LowBack, g.Posture.Chest, g.Posture.ShoulderBlades, g.Posture.Chin, g.Posture.Spine}, "") {
				t.Errorf("%s: the texts of %s are not all there", code, name)
			}
		}
		for _, name := range w.Library() {
			if name != notInName.ReplaceAllString(name, "-") {
				t.Errorf("%s: %q is no name for a file", code, name)
			}
		}
	}
	if _, err := In("xx"); err == nil || !strings.Contains(err.Error(), `no words in "xx"; known are: `) {
		t.Errorf("unknown language: %v", err)
	}
}

// What has no letter and no digit is nothing to say.
func TestSentences(t *testing.T) {
	for text, want := range map[string][]string{
		"":                          nil,
		"One. Two!  Three? Four":    {"One.", "Two!", "Three?", "Four"},
		"Sit. ... Then relax. — ":   {"Sit.", "Then relax."},
		"Höher, 2.5 cm. Ärmel hoch": {"Höher, 2.5 cm.", "Ärmel hoch"},
	} {
		if got := splitSentences(text); !slices.Equal(got, want) {
			t.Errorf("%q: %q, want %q", text, got, want)
		}
	}
}

func TestOwnGlidesOfOneName(t *testing.T) {
	const own = "{own: {name: '%s', start: 'S%s', out: O, back: B}, side: left, reps: 2}"
	line := lay(t, "glidepace: 1\ntitle: T\nbreath: {rate: 6}\nexercises: ["+
		fmt.Sprintf(own+","+own+","+own+","+own, "Ärm & slide", "", "Ärm & slide", "", "rm slide", " else", "rm slide 2", "")+"]\n")
	var names []string
	for _, c := range english(t).Cues(line.Session()) {
		if strings.Contains(c.Name, "-start-1") {
			names = append(names, c.Name)
		}
	}
	if want := []string{"own-rm-slide-start-1", "own-rm-slide-2-start-1", "own-rm-slide-2-2-start-1"}; !slices.Equal(names, want) {
		t.Errorf("got %v, want %v", names, want)
	}
}

// The times of WebVTT: W3C WebVTT, (hh+:)?mm:ss.ttt.
func TestCaptions(t *testing.T) {
	line := lay(t, `glidepace: 1
title: "A <b> & --> C"
breath: {rate: 6, ratio: "1:1.5"}
lead_in: {breaths: 1}
set_up: 3600ms
exercises:
  - {own: {name: Slide, start: Hand <here>., out: Out., back: Back.}, side: right, reps: 2, rest: 0s}
`)
	var out bytes.Buffer
	if err := english(t).WriteCaptions(&out, line, tail); err != nil {
		t.Fatal(err)
	}
	const want = `WEBVTT

NOTE A &lt;b&gt; &amp; --&gt; C

00:00:00.000 --> 00:00:03.800
Breathe in. Arms resting in your lap. Breathe softly.

00:00:03.800 --> 00:00:10.000
Breathe out. Arms resting in your lap. Breathe softly.

00:00:10.000 --> 00:00:13.600
Right side. Hand &lt;here&gt;.

00:00:13.600 --> 00:00:17.400
Breathe in. Start position.

00:00:17.400 --> 00:00:23.600
1/2. Breathe out. Out.

00:00:23.600 --> 00:00:27.400
1/2. Breathe in. Back.

00:00:27.400 --> 00:00:33.600
2/2. Breathe out. Out.

00:00:33.600 --> 00:00:37.400
2/2. Breathe in. Back.

00:00:37.400 --> 00:00:41.400
Done. Let the arm hang and loosen it.
`
	if out.String() != want {
		t.Errorf("got:\n%swant:\n%s", out.String(), want)
	}
	if got := vttTime(3723.0005); got != "01:02:03.001" {
		t.Errorf("time %s", got)
	}
}
