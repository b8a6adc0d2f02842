package pacer

import (
	"errors"
	"fmt"
	"math"
	"slices"

	"glidepace/sessions"
)

// A comfortable rate is sought from above: from the rate at which a person
// breathes by themself down to slower ones, each tried for a while and rated,
// until it gets less comfortable or the person light-headed. Slow breathing
// easily becomes too much breathing: of 16 people who breathed at 0.1 Hz for
// ten minutes 37.5 % had over-breathed on the first day (PLoS One
// 2019;14(6):e0218550).

// RateSteps are the rates, in breaths a minute, that are tried one after
// another where no run down from the person's own rate is wanted. They span
// the range of slow-paced breathing.
var RateSteps = []float64{6.5, 6, 5.5, 5, 4.5}

// comfortFall is by how much comfort, 0 to 10, may not fall.
const comfortFall = 2

// Stage is a way of breathing that was tried, and how it felt.
type Stage struct {
	Rate        float64        // breaths per minute
	Ratio       sessions.Ratio // inhale to exhale
	Seconds     float64        // at this rate and ratio, not on the way to them
	Comfort     []int          // 0, worst, to 10; one for each time it was asked
	LightHeaded bool
}

// Slower returns the next rate of a run down: about a tenth slower, in halves
// of a breath a minute. It is rate itself at MinRate.
func Slower(rate float64) float64 {
	return max(MinRate, halves(rate*0.9))
}

// Faster returns the rate about a tenth faster, in halves of a breath a
// minute. It is rate itself at MaxRate.
func Faster(rate float64) float64 {
	return min(MaxRate, halves(rate/0.9))
}

func halves(rate float64) float64 { return math.Round(2*rate) / 2 }

// LongerExhale returns the next ratio with more time for the exhale: with the
// shorter phase as 1, the longer one changes by a tenth or less. So neither
// phase changes by more than 5 %.
func LongerExhale(r sessions.Ratio) sessions.Ratio { return shiftRatio(r, 1) }

// LongerInhale is LongerExhale the other way.
func LongerInhale(r sessions.Ratio) sessions.Ratio { return shiftRatio(r, -1) }

// shiftRatio shifts a ratio by a step towards a longer exhale (1) or a longer
// inhale (-1). On the scale of the steps 0 is 1:1, 10 is 1:2 and -10 is 2:1.
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

// LowestRate returns the rate under which not to go after the stages tried,
// and why; 0 where nothing speaks against a lower one. It is the rate at which
// the person got light-headed, or at which comfort fell by 2 or more: against
// the best that it was before, at that rate or a faster one. What was felt
// at a slower rate does not count: a fall on the way up is no reason to stay
// there.
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

// Offer returns the rate to try next, when now is the rate of the last stage
// tried: the next of RateSteps, or of the run down. It is 0 where there is
// none to be tried, and why says so.
func Offer(tried []Stage, now float64, steps bool) (next float64, why string) {
	if lowest, why := LowestRate(tried); now <= lowest {
		return 0, why
	}
	if steps {
		for _, step := range RateSteps {
			if step < now {
				return step, ""
			}
		}
	} else if next = Slower(now); next >= SlowPacedLow {
		return next, ""
	}
	return 0, fmt.Sprintf("%.4g a minute is the lowest that is offered", SlowPacedLow)
}

// Recommend returns the most comfortable of the stages tried, of those that
// were equally comfortable the fastest. What counts is the lowest comfort that
// was said at a rate and ratio. A rate at which the person got light-headed is
// not recommended, nor one under it; it returns false where nothing is left.
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
		if s.Rate <= lightHeaded || len(s.Comfort) == 0 {
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

// TaperTo returns the shortest taper between two rates in which no breath
// differs from the one before by more than 5 %; nil between equal rates. From
// one hard limit to the other it takes 48 breaths, so a lead-in can always
// hold it.
func TaperTo(from, to float64) *sessions.Taper {
	if n := taperBreaths(from, to); n > 0 {
		return &sessions.Taper{From: from, Breaths: n}
	}
	return nil
}

func taperBreaths(from, to float64) int {
	return int(math.Ceil(math.Abs(math.Log(from/to))/math.Log(comfortTaperStep) - slack))
}

// Toward returns the breath that leads from one way of breathing to another
// without a noticeable step, from the next breath on: while the ratios differ
// it shifts the ratio alone by one step (and is to be followed by Toward from
// there), then it tapers the rate by 5 % or less a breath. Match and pause are
// those of want.
func Toward(now, want sessions.Breath) sessions.Breath {
	next := want
	from := now.Rate
	switch a, b := exhaleShare(now.Ratio), exhaleShare(want.Ratio); {
	case a < b-slack:
		if r := LongerExhale(now.Ratio); exhaleShare(r) < b {
			next.Ratio = r
		}
	case a > b+slack:
		if r := LongerInhale(now.Ratio); exhaleShare(r) > b {
			next.Ratio = r
		}
	default:
		if n := taperBreaths(now.Rate, want.Rate); n > 0 {
			from *= math.Pow(want.Rate/now.Rate, 1/float64(n))
		}
	}
	next.Taper = TaperTo(from, want.Rate)
	return next
}

func exhaleShare(r sessions.Ratio) float64 { return r.Exhale / (r.Inhale + r.Exhale) }

// AtRest lays out breaths without any movement, as in a lead-in. The error
// says which hard limit they would not keep.
func AtRest(b sessions.Breath, breaths int) (*Timeline, error) {
	t := newPlan(&sessions.Session{Posture: sessions.PostureNone, Breath: b, LeadIn: breaths}).lay("Breathing at rest", cursor{})
	if problems := refusals(t); len(problems) > 0 {
		return nil, errors.New(problems[0].Text)
	}
	return t, nil
}
