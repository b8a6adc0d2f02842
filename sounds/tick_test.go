package sounds

import (
	"math"
	"testing"
	"time"

	"glidepace/pacer"
	"glidepace/sessions"
)

// One tick falls on the first frame of each movement out, two fall 90 ms apart
// on each way back, each of them whole; there is no other.
func TestOneTickOutAndTwoBack(t *testing.T) {
	lines := wholeSessions(t)
	// The shortest movements that are allowed: 1 s.
	for name, b := range map[string]sessions.Breath{
		"shortest, on the exhale":  {Rate: 24, Ratio: sessions.Ratio{Inhale: 1, Exhale: 1}, Pause: 499 * time.Millisecond},
		"shortest, a breath a rep": {Match: sessions.BreathPerRep, Inhale: 2 * time.Second, Exhale: 2 * time.Second},
	} {
		s := ordinary()
		s.Breath = b
		lines[name] = timeline(t, s)
	}
	for name, line := range lines {
		ticks := newScore(line, with(100)).whole()
		for n, x := range withoutTicks(line).whole() {
			ticks[n] -= x
		}
		movements := 0
		for i, step := range line.Steps {
			from, _ := span(line, i)
			starts := []int{}
			switch step.Move {
			case pacer.Glide:
				starts = []int{from}
			case pacer.Return:
				starts = []int{from, from + 90*48}
			}
			movements += len(starts)
			for _, start := range starts {
				if tickSamples[0] == 0 {
					t.Fatal("a tick begins with nothing")
				}
				for k, x := range tickSamples {
					ticks[start+k] -= x
				}
			}
		}
		if movements == 0 {
			t.Errorf("%s: no movement", name)
		}
		for n, x := range ticks {
			if math.Abs(x) > 1e-12 {
				t.Fatalf("%s: %v too much at %.3f s", name, x, float64(n)/48000)
			}
		}
	}
}

// The loudest of a tick comes within 5 ms of its start.
func TestTickAttack(t *testing.T) {
	loudest := 0
	for k, x := range tickSamples {
		if x > tickSamples[loudest] {
			loudest = k
		}
	}
	if at := SampleRate.D(loudest); at >= 5*time.Millisecond {
		t.Errorf("loudest after %v", at)
	}
}
