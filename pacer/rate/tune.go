package rate

import (
	"fmt"
	"math"
	"slices"

	"glidepace/pacer"
	"glidepace/sessions"
)

// A comfortable rate is looked for from above: from a person's own rate to slower
// ones, each tried for a while and rated, until one is less comfortable or makes the
// person light-headed. Slow breathing easily becomes too much breathing: of 16 people
// who breathed at 0.1 Hz for ten minutes, 37.5 % had over-breathed on the first day
// (PLoS One 2019;14(6):e0218550).

// slack is a little more than rounding can add up to.
const slack = 1e-9

// slowPacedCentre is the centre of the range of slow-paced breathing, in
// breaths a minute: Lehrer, Vaschillo & Vaschillo, Appl Psychophysiol
// Biofeedback 2000;25:177–191, doi 10.1023/A:1009554825745.
const slowPacedCentre = 6

// comfortFall is the fall of comfort, rated 0 to 10, that ends the search.
const comfortFall = 2

// Stage is a way of breathing that was tried, and how it felt.
type Stage struct {
	Rate        float64        // breaths per minute
	Ratio       sessions.Ratio // inhale to exhale
	Seconds     float64        // at this rate and ratio, without the way to them
	Comfort     []int          // 0, worst, to 10; one for each time of asking
	Whole       bool           // rated after its whole length
	LightHeaded bool
}

// Slower returns the rate about a tenth slower, in halves of a breath a minute, but
// not under MinRate.
func Slower(rate float64) float64 {
	return max(pacer.MinRate, halves(rate*0.9))
}

// StepDown returns the next rate of a run that goes down by itself: slower by up to
// one breath a minute, in halves; by one half from 7 on, through the range of
// slow-paced breathing; but not under MinRate.
func StepDown(rate float64) float64 {
	by := 1.0
	if rate <= SlowPacedHigh+0.5 {
		by = 0.5
	}
	return max(pacer.MinRate, math.Ceil(2*(rate-by)-slack)/2)
}

// Faster returns the rate about a tenth faster, in halves of a breath a minute, but
// not over MaxRate.
func Faster(rate float64) float64 {
	return min(pacer.MaxRate, halves(rate/0.9))
}

func halves(rate float64) float64 { return math.Round(2*rate) / 2 }

// LongerExhale returns the next ratio with more time for the exhale. With the shorter
// phase as 1, the longer one changes by a tenth or less, so that neither phase changes
// by more than 5 %.
func LongerExhale(r sessions.Ratio) sessions.Ratio { return shiftRatio(r, 1) }

// LongerInhale is LongerExhale the other way.
func LongerInhale(r sessions.Ratio) sessions.Ratio { return shiftRatio(r, -1) }

// shiftRatio shifts a ratio by a step toward a longer exhale (1) or a longer inhale
// (-1). On the scale of the steps 0 is 1:1, 10 is 1:2 and -10 is 2:1.
func shiftRatio(r sessions.Ratio, by float64) sessions.Ratio {
	at := 10 * (r.Exhale/r.Inhale - 1)
	if r.Inhale > r.Exhale {
		at = -10 * (r.Inhale/r.Exhale - 1)
	}
	const most = 90 // a part of a ratio is 10 at most
	if by > 0 {
		at = min(most, math.Floor(at+slack)+1)
	} else {
		at = max(-most, math.Ceil(at-slack)-1)
	}
	if at < 0 {
		return sessions.Ratio{Inhale: (10 - at) / 10, Exhale: 1}
	}
	return sessions.Ratio{Inhale: 1, Exhale: (10 + at) / 10}
}

// LowestRate returns the rate that should not be tried again, nor any under it, and
// why; 0 where nothing speaks against any rate. The person got light-headed at it, or
// comfort fell by 2 or more from its best at that rate or a faster one. Comfort at a
// slower rate does not count: a fall on the way up is no reason to stay down.
func LowestRate(tried []Stage) (rate float64, why string) {
	for i, s := range tried {
		if s.LightHeaded && s.Rate > rate {
			rate, why = s.Rate, fmt.Sprintf("light-headed at %.4g a minute", s.Rate)
		}
		best := -1
		for _, before := range tried[:i] {
			if before.Rate >= s.Rate && len(before.Comfort) > 0 {
				best = max(best, slices.Max(before.Comfort))
			}
		}
		for _, c := range s.Comfort {
			if best-c >= comfortFall && s.Rate > rate {
				rate, why = s.Rate, fmt.Sprintf("comfort fell from %d to %d at %.4g a minute", best, c, s.Rate)
			}
			best = max(best, c)
		}
	}
	return rate, why
}

// Offer returns the rate to try after a stage at the rate now: that of StepDown where
// steps is set, else of Slower, but none under floor. A rate under 6 a minute needs a
// last stage that was whole. Where there is no rate to try it is 0, and why says so.
func Offer(tried []Stage, now, floor float64, steps bool) (next float64, why string) {
	next = Slower(now)
	if steps {
		next = StepDown(now)
	}
	next = max(next, floor)
	lowest, why := LowestRate(tried)
	switch {
	case next <= lowest:
		return 0, why
	case next >= now:
		return 0, fmt.Sprintf("%.4g a minute is the lowest that is offered", floor)
	case next < slowPacedCentre && (len(tried) == 0 || !tried[len(tried)-1].Whole):
		return 0, fmt.Sprintf("a step under %d a minute comes only after this rate was tried for its whole time and rated", slowPacedCentre)
	}
	return next, ""
}

// Recommend returns the most comfortable of the whole stages, the fastest of equals;
// false where there is none. What counts is the lowest comfort at a rate and ratio.
// A rate that made the person light-headed is not recommended, nor any under it.
func Recommend(tried []Stage) (Stage, bool) {
	lightHeaded := 0.0 // the fastest such rate
	for _, s := range tried {
		if s.LightHeaded {
			lightHeaded = max(lightHeaded, s.Rate)
		}
	}
	var best Stage
	comfort := -1
	for _, s := range tried {
		if s.Rate <= lightHeaded || !s.Whole {
			continue
		}
		least := 10
		for _, other := range tried {
			if other.Rate == s.Rate && other.Ratio == s.Ratio && len(other.Comfort) > 0 {
				least = min(least, slices.Min(other.Comfort))
			}
		}
		if least > comfort || least == comfort && s.Rate > best.Rate {
			best, comfort = s, least
		}
	}
	return best, comfort >= 0
}

// TaperTo returns the shortest taper between two rates in which no breath differs from
// the one before by more than 5 %; nil between equal rates. The longest has 48
// breaths, so that a lead-in can always hold it.
func TaperTo(from, to float64) *sessions.Taper {
	if n := pacer.TaperBreaths(from, to); n > 0 {
		return &sessions.Taper{From: from, Breaths: n}
	}
	return nil
}

// Toward returns want with a taper that leads from the rate now to its own, by 5 % or
// less a breath, beginning with the next breath.
func Toward(now float64, want sessions.Breath) sessions.Breath {
	want.Taper = nil
	if n := pacer.TaperBreaths(now, want.Rate); n > 0 {
		want.Taper = TaperTo(now*math.Pow(want.Rate/now, 1/float64(n)), want.Rate)
	}
	return want
}
