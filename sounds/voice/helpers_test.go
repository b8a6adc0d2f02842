package voice

import (
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"sync"
	"testing"

	"pgregory.net/rapid"

	"glidepace/pacer"
	"glidepace/sessions"
	"glidepace/sessions/glides"
)

const tail = 4.0 // seconds

var examples = []string{"first-week.yaml", "sixth-week.yaml", "one-minute.yaml", "working-up.yaml"}

func read(t tester, name string) *pacer.Timeline {
	src, err := os.ReadFile(filepath.Join("../../testdata/sessions", name))
	if err != nil {
		t.Fatal(err)
	}
	return laid(t, string(src))
}

type tester interface {
	Fatal(...any)
	Fatalf(string, ...any)
	Errorf(string, ...any)
}

func english(t tester) *Language {
	w, err := FindLanguage("en")
	if err != nil {
		t.Fatal(err)
	}
	return w
}

// speaking returns a voice that takes some seconds for each cue; 0 is for none.
func speaking(t tester, line *pacer.Timeline, seconds func(Cue) float64) *Voice {
	clips := map[string]Clip{}
	for _, c := range english(t).Cues(line.Session()) {
		if n := pacer.Frame(seconds(c), rate); n > 0 {
			clips[c.Name] = make(Clip, n)
		}
	}
	return New(english(t), clips)
}

// atReadingSpeed is about how long espeak-ng takes at 150 words a minute.
func atReadingSpeed(c Cue) float64 { return 0.2 + 0.062*float64(len(c.Text)) }

// spokenSeconds has how long espeak-ng 1.51 takes for each text at 150 words a
// minute, as kept in testdata.
var spokenSeconds = sync.OnceValue(func() map[string]float64 {
	file, err := os.ReadFile("testdata/seconds.txt")
	seconds := map[string]float64{}
	for l := range strings.Lines(string(file)) {
		number, text, _ := strings.Cut(strings.TrimSpace(l), " ")
		s, wrong := strconv.ParseFloat(number, 64)
		seconds[text], err = s, errors.Join(err, wrong)
	}
	if err != nil {
		panic(err)
	}
	return seconds
})

// asSpoken returns a voice that takes as long for each cue as espeak-ng.
func asSpoken(t *testing.T, line *pacer.Timeline) *Voice {
	return speaking(t, line, func(c Cue) float64 {
		s, ok := spokenSeconds()[c.Text]
		if !ok {
			t.Fatalf("testdata/seconds.txt has no length of %q: add it with the length 0, then go test -tags real -run RealSeconds ./sounds/clips -update", c.Text)
		}
		return s
	})
}

// wholeSessions returns whole sessions: the examples, and each glide of the library on
// either match, at rates and ratios of all kinds, with a taper.
func wholeSessions(t *testing.T) map[string]*pacer.Timeline {
	lines := map[string]*pacer.Timeline{}
	for _, name := range examples {
		lines[name] = read(t, name)
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

const neckSession = "glidepace: 1\ntitle: T\nbreath: {rate: 6}\nposture: %s\nlead_in: {breaths: 2}\n%sexercises:\n  - {glide: median-wrist, side: left, reps: 2}\n  - {%s, side: both, sets: 2, reps: 3}\n"

const ownNeck = "own: {name: Tip, start: Head up., out: Tip., back: Up., neck: true}"

func anyLine(t *rapid.T) *pacer.Timeline {
	line := laid(t, fmt.Sprintf(neckSession, rapid.SampledFrom(sessions.Postures()).Draw(t, "posture"),
		rapid.SampledFrom([]string{"", "set_up: 0s\n", "set_up: 8s\n"}).Draw(t, "set-up"), rapid.SampledFrom([]string{"glide: median-neck", ownNeck}).Draw(t, "glide")))
	if rapid.Bool().Draw(t, "example") {
		line = read(t, rapid.SampledFrom(examples).Draw(t, "file"))
	}
	switch rapid.SampledFrom([]string{"whole", "after a pause", "after symptoms"}).Draw(t, "which") {
	case "after a pause":
		return line.GoOn(rapid.IntRange(0, len(line.Steps)).Draw(t, "step"))
	case "after symptoms":
		return line.GoOnEased(rapid.IntRange(0, len(line.Steps)).Draw(t, "step"))
	}
	return line
}

// schedule returns what is said in a timeline at the speed of espeak-ng.
func schedule(t *testing.T, line *pacer.Timeline) Schedule {
	return asSpoken(t, line).Schedule(line, tail)
}

// names returns the names of the cues that are said, with spaces between.
func names(said []Said) string {
	var list []string
	for _, s := range said {
		list = append(list, s.Cue.Name)
	}
	return strings.Join(list, " ")
}
