package sounds

import (
	"fmt"
	"math"
	"testing"

	"glidepace/pacer"
	"glidepace/sessions"
)

// wholeSessions are timelines of both matches, from slow to quick, at several
// ratios, with pauses at one end and at both.
func wholeSessions(t *testing.T) map[string]*pacer.Timeline {
	lines := map[string]*pacer.Timeline{}
	for match, rates := range map[sessions.Match][]float64{
		sessions.ExhaleOnGlide: {4.5, 6, 14},
		sessions.BreathPerRep:  {3.5, 6, 8},
	} {
		for _, rate := range rates {
			for _, ratio := range []sessions.Ratio{{Inhale: 1, Exhale: 1}, {Inhale: 1, Exhale: 1.5}, {Inhale: 1.2, Exhale: 1}} {
				s := ordinary()
				s.Breath.Match, s.Breath.Rate, s.Breath.Ratio = match, rate, ratio
				s.Exercises[0].BothEnds = ratio.Inhale == ratio.Exhale
				lines[fmt.Sprintf("%v at %v, %v:%v", match, rate, ratio.Inhale, ratio.Exhale)] = timeline(t, s)
			}
		}
	}
	return lines
}

// phase is an inhale or exhale, through all of its steps.
type phase struct {
	breath   pacer.Breath
	from, to int // frames
}

func phases(line *pacer.Timeline) (list []phase) {
	for i, s := range line.Steps {
		from, to := span(line, i)
		switch {
		case s.Breath != pacer.Inhale && s.Breath != pacer.Exhale:
		case line.FlowsOn(i):
			list[len(list)-1].to = to
		default:
			list = append(list, phase{s.Breath, from, to})
		}
	}
	return list
}

// What is left of the power at a frequency in hertz: of all; behind a
// Butterworth high-pass of second order at 500 Hz, a phone; behind one that has
// nothing under 500 Hz; behind a Butterworth low-pass of second order at 2 kHz,
// an older ear.
var heardThrough = map[string]func(hertz float64) float64{
	"nothing":   func(float64) float64 { return 1 },
	"high-pass": func(f float64) float64 { return 1 / (1 + math.Pow(500/f, 4)) },
	"wall": func(f float64) float64 {
		if f < 500 {
			return 0
		}
		return 1
	},
	"low-pass": func(f float64) float64 { return 1 / (1 + math.Pow(f/2000, 4)) },
}

// centroids returns the mean frequency of samples, weighed by the power that is
// heard, for each of heardThrough.
func centroids(samples []float64) map[string]float64 {
	n := 1
	for n < len(samples) {
		n *= 2
	}
	bins := powers(samples, n)
	found := map[string]float64{}
	for name, left := range heardThrough {
		sum, weights := 0.0, 0.0
		for k, p := range bins {
			f := float64(k) * float64(SampleRate) / float64(n)
			sum += left(f) * p * f
			weights += left(f) * p
		}
		found[name] = sum / weights
	}
	return found
}

// Whatever it is heard through, the tone rises over an inhale and falls over an
// exhale, by 12 % or more from the first to the last tenth of it.
func TestInhaleRisesAndExhaleFalls(t *testing.T) {
	type figure struct {
		breath  pacer.Breath
		through string
	}
	least := map[figure]float64{}
	for name, line := range wholeSessions(t) {
		all := withoutTicks(line).whole()
		for _, p := range phases(line) {
			tenth := (p.to - p.from) / 10
			first, last := centroids(all[p.from:p.from+tenth]), centroids(all[p.to-tenth:p.to])
			for through := range heardThrough {
				goes := last[through]/first[through] - 1
				if p.breath == pacer.Exhale {
					goes = -goes
				}
				if goes < 0.12 {
					t.Errorf("%s: the %v at %.1f s goes by %.1f %% the right way, heard through %s",
						name, p.breath, float64(p.from)/float64(SampleRate), 100*goes, through)
				}
				f := figure{p.breath, through}
				if was, ok := least[f]; !ok || goes < was {
					least[f] = goes
				}
			}
		}
	}
	for f, goes := range least {
		t.Logf("%v through %s: by %.1f %% or more", f.breath, f.through, 100*goes)
	}
}
