package pacer

import (
	"math"

	"glidepace/sessions"
)

// cycle is one breath: its rate in breaths per minute, its parts in seconds.
type cycle struct{ rate, inhale, exhale, pause float64 }

// cycle returns paced breath number j of the session, with the given number of
// pauses in it. With the cycle T = 60/rate, the ratio a:b and p pauses of P
// seconds, the inhale of exhale-on-glide is (T − pP)·a/(a+b). In breath-per-rep the
// breath flows on through the pause, so that the inhale is T·a/(a+b).
func (p plan) cycle(j, pauses int) cycle {
	b := p.session.Breath
	c := cycle{pause: b.Pause.Seconds()}
	still := 0.0 // seconds in which the breath turns
	if b.Match == sessions.ExhaleOnGlide {
		still = float64(pauses) * c.pause
	}
	if b.Rate == 0 {
		c.inhale, c.exhale = b.Inhale.Seconds(), b.Exhale.Seconds()
		given := 60 / (c.inhale + c.exhale + still)
		if c.rate = p.ease(given); c.rate != given {
			longer := (60/c.rate - still) / (c.inhale + c.exhale)
			c.inhale, c.exhale = c.inhale*longer, c.exhale*longer
		}
		return c
	}
	c.rate = p.ease(taperedRate(b, j))
	flow := 60/c.rate - still
	share := b.Ratio.Inhale + b.Ratio.Exhale
	c.inhale = flow * b.Ratio.Inhale / share
	c.exhale = flow * b.Ratio.Exhale / share
	return c
}

// ease slows a rate as the plan says, but not below the floor. A rate that is below
// it already stays.
func (p plan) ease(rate float64) float64 {
	if floor := p.session.Ease.Floor; rate > floor {
		return max(floor, rate*p.slow)
	}
	return rate
}

// taperedRate returns the rate of paced breath j: r0·(r/r0)^(j/N) while j < N,
// then r.
func taperedRate(b sessions.Breath, j int) float64 {
	if b.Taper == nil || j >= b.Taper.Breaths {
		return b.Rate
	}
	return b.Taper.From * math.Pow(b.Rate/b.Taper.From, float64(j)/float64(b.Taper.Breaths))
}

// taperStep returns how many times longer each breath of the taper lasts than the
// one before: q = (r0/r)^(1/N); 1 without a taper.
func taperStep(b sessions.Breath) float64 {
	if b.Taper == nil {
		return 1
	}
	return math.Pow(b.Taper.From/b.Rate, 1/float64(b.Taper.Breaths))
}
