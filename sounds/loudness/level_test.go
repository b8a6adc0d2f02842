package loudness

import (
	"math"
	"slices"
	"testing"

	"pgregory.net/rapid"

	"glidepace/pacer"
)

func TestLevel(t *testing.T) {
	soft := speech(0.01, 2*pacer.SampleRate)
	bang := speech(0.2, 2*pacer.SampleRate)
	bang[5000], bang[5001] = 1, -1
	for _, c := range []struct {
		name            string
		clip            []float64
		target, ceiling float64
	}{
		{"soft, nothing to limit", soft, -40, 0.5},
		{"soft, much to limit", soft, -19, 0.5},
		{"loud", noise(0.9, pacer.SampleRate), -20, 0.5},
		{"loud enough but too high", bang, Integrated(bang), 0.3},
		{"a bang", bang, -20, 0.5},
		{"short word", speech(0.05, 9000), -20, 0.5},
		{"long", speech(0.3, 20*pacer.SampleRate), -20, 0.5},
		{"one sample", []float64{0.01}, -60, 0.5},
	} {
		t.Run(c.name, func(t *testing.T) {
			clip := slices.Clone(c.clip)
			reached := Level(clip, c.target, c.ceiling)
			t.Logf("from %.2f LUFS, %.2f dBTP to %.2f, %.2f", Integrated(c.clip), truePeak(c.clip), reached, truePeak(clip))
			nearTo(t, "reached", reached, c.target, near)
			nearTo(t, "loudness", Integrated(clip), reached, 0)
			under(t, clip, c.ceiling)
			again := slices.Clone(clip)
			nearTo(t, "level again", Level(again, c.target, c.ceiling), c.target, near)
		})
	}
}

// tester is a test, or a property under test.
type tester interface{ Errorf(string, ...any) }

const rounding = 1e-12

// under checks that the peaks of clip are at most at ceiling.
func under(t tester, clip []float64, ceiling float64) {
	if p := samplePeak(clip); p > ceiling+rounding {
		t.Errorf("a sample of %v, want at most %v", p, ceiling)
	}
	if p := truePeak(clip) - decibels(ceiling); p > 0.05 {
		t.Errorf("a true peak %.3f dB over the ceiling", p)
	}
}

// Whatever the sound, the ceiling holds and nothing clicks.
func TestLimit(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		sound := speech(rapid.Float64Range(0.001, 1).Draw(t, "amplitude"), rapid.IntRange(1, 5000).Draw(t, "samples"))
		for range rapid.IntRange(0, 5).Draw(t, "bangs") {
			sound[rapid.IntRange(0, len(sound)-1).Draw(t, "at")] = rapid.Float64Range(-1, 1).Draw(t, "bang")
		}
		gain := rapid.Float64Range(0.1, 100).Draw(t, "gain")
		ceiling := rapid.Float64Range(0.05, 1).Draw(t, "ceiling")
		clip := make([]float64, len(sound))
		limit(clip, sound, heights(sound), gain, ceiling)

		under(t, clip, ceiling)
		// The mean of means goes from one end of its range to the other in
		// half of ease at the fastest.
		fastest := gain / (ease / 2)
		for n := 1; n < len(clip); n++ {
			if sound[n-1] != 0 && sound[n] != 0 {
				before, here := clip[n-1]/sound[n-1], clip[n]/sound[n]
				if math.Abs(here-before) > fastest+rounding || here > gain+rounding {
					t.Errorf("the gain goes from %v to %v at sample %d", before, here, n)
				}
			}
			// No step is larger than it was times the gain, and a little.
			was, is := math.Abs(sound[n]-sound[n-1]), math.Abs(clip[n]-clip[n-1])
			if is > gain*was+ceiling/(ease/2)+rounding {
				t.Errorf("a step of %v at sample %d, was %v at a gain of %v", is, n, was, gain)
			}
		}
	})
}

// Where the ceiling is too low for the target, a clip is not crushed for it.
func TestOutOfReach(t *testing.T) {
	clip := speech(0.5, 2*pacer.SampleRate)
	was := slices.Clone(clip)
	reached := Level(clip, -10, 0.1)
	if reached > -20 || reached < Integrated(was)-10 {
		t.Errorf("%.2f LUFS", reached)
	}
	under(t, clip, 0.1)

	clip = slices.Clone(was)
	if l := Level(clip, -20, 1e-6); !math.IsInf(l, -1) {
		t.Errorf("%.2f LUFS under a ceiling of 1e-6", l)
	}
	under(t, clip, 1e-6)
}

func TestSilenceStays(t *testing.T) {
	faint := noise(1e-5, pacer.SampleRate)
	for _, clip := range [][]float64{nil, make([]float64, pacer.SampleRate), faint} {
		was := slices.Clone(clip)
		if l := Level(clip, -20, 0.5); !math.IsInf(l, -1) || !slices.Equal(clip, was) {
			t.Errorf("%d samples: %.2f LUFS, changed: %v", len(clip), l, !slices.Equal(clip, was))
		}
	}
}
