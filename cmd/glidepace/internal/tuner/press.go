package tuner

import (
	"context"
	"strings"
	"time"

	"glidepace/pacer"
	"glidepace/pacer/rate"
	"glidepace/sessions"
)

// question is what has been asked and not answered.
type question uint8

const (
	noQuestion question = iota
	askedComfort
	askedLightHeaded
)

// key does what a key asks for. No key may mean one thing here and another in a
// session. There u means a pause and d a warning sign, so here both mean nothing.
func (r *run) key(ctx context.Context, k rune) {
	switch enter := k == '\n' || k == '\r'; {
	case enter && r.Piped:
		r.waits = r.question == noQuestion
	case enter && time.Since(r.began) >= ignoreStop:
		r.stop(ctx)
	case k == 'q':
		r.End = Left
	case k == 'w':
		if _, ok := rate.Recommend(r.Tried); ok {
			r.End = Write
			return
		}
		r.Screen.Line("There is nothing to write yet: a rate must be tried for %s and then rated.", pacer.Clock(r.Step.Seconds()))
	case k == 'b', k == 'y' && r.question == askedLightHeaded:
		r.lightHeaded()
	case k == 'n' && r.question == askedLightHeaded:
		r.rated()
	case k >= '0' && k <= '9':
		if !r.onTheWay() {
			r.rate(int(k - '0'))
		}
	case r.question == noQuestion && strings.ContainsRune("sfei", k) && !r.onTheWay():
		r.change(k)
	}
}

// onTheWay reports whether the breath is on its way to another, and says so
// once.
func (r *run) onTheWay() bool {
	if !r.reached.IsZero() {
		return false
	}
	if !r.toldWait {
		r.toldWait = true
		r.Screen.Line("Not yet: the breath is still on its way to %s.", describe(r.target))
	}
	return true
}

// change goes to another rate or ratio, as a key says.
func (r *run) change(k rune) {
	b := r.target
	switch k {
	case 's':
		next, why := rate.Offer(r.Tried, b.Rate, r.Floor, r.Steps)
		if next == 0 {
			r.Screen.Line("No slower: %s.", why)
			return
		}
		b.Rate = next
	case 'f':
		b.Rate = rate.Faster(b.Rate)
	case 'e':
		b.Ratio = rate.LongerExhale(b.Ratio)
	case 'i':
		b.Ratio = rate.LongerInhale(b.Ratio)
	}
	if b == r.target {
		r.Screen.Line("That is the limit: %s.", describe(b))
	} else if err := r.aim(b); err != nil {
		r.Screen.Line("Not possible: %v.", err)
	}
}

func (r *run) askComfort() {
	r.question, r.waits = askedComfort, false
	r.Screen.Line("How comfortable is it? 0 is not at all, 10 is the best.")
}

// rate takes a comfort and asks the second question. Until that is answered
// another digit corrects it, and a 0 makes a 1 a 10.
func (r *run) rate(digit int) {
	if r.question == askedLightHeaded && r.comfort == 1 && digit == 0 {
		digit = 10
	}
	r.ask.Stop()
	r.comfort, r.question, r.waits = digit, askedLightHeaded, false
	r.Screen.Line("Comfort %d, where 10 is the best. Light-headed or short of breath? y or n", r.comfort)
}

// rated keeps the comfort of a stage, once the person has said that they are not
// light-headed, and goes on from there.
func (r *run) rated() {
	r.question = noQuestion
	s := &r.Tried[len(r.Tried)-1]
	s.Comfort = append(s.Comfort, r.comfort)
	rest := r.Step - time.Since(r.reached)
	s.Whole = rest <= 0
	if lowest, _ := rate.LowestRate(r.Tried); rest > 0 && s.Rate > lowest {
		r.Screen.Line("Kept. You are asked again at %s; only what is rated then can be written.", pacer.Clock(r.Step.Seconds()))
		r.ask.Reset(min(askEvery, rest))
		return
	}
	next, why := rate.Offer(r.Tried, s.Rate, r.Floor, r.Steps)
	if r.Steps {
		b := r.target
		b.Rate = next
		if next == 0 {
			r.over("%s", why)
		} else if err := r.aim(b); err != nil {
			r.over("%v", err)
		}
		return
	}
	if best, ok := rate.Recommend(r.Tried); ok {
		r.Screen.Line("Most comfortable so far: %s.", describe(sessions.Breath{Rate: best.Rate, Ratio: best.Ratio}))
	}
	if next == 0 {
		r.Screen.Line("No slower from here: %s.", why)
	} else {
		r.Screen.Line("Slower? s goes on to %.4g.", next)
	}
	r.ask.Reset(min(askEvery, r.Step))
}

// stop ends the pacing at once, and then asks whether it was the breath.
func (r *run) stop(ctx context.Context) {
	r.silence()
	r.Screen.Status("")
	r.Screen.Line("Stopped. Breathe as you like. Light-headed or short of breath? y or n")
	switch r.Keys.Await(ctx, "bynq") {
	case 'b', 'y':
		r.lightHeaded()
	case 'q':
		r.End = Left
	default:
		r.over("stopped at %.3g a minute", r.current.Rate)
	}
}

// lightHeaded ends the pacing, which may be what makes the person light-headed. If
// the breath was still on its way to a rate, the current rate is the one noted.
func (r *run) lightHeaded() {
	r.silence() // before any line: the terminal may be slow
	s := &r.Tried[len(r.Tried)-1]
	s.LightHeaded = true
	if r.reached.IsZero() {
		s.Rate = r.current.Rate
	}
	if r.question == askedLightHeaded {
		s.Comfort = append(s.Comfort, r.comfort)
	}
	r.Screen.Line("Leave the pacing now. Breathe as you like, and sit until it has passed.")
	r.over("light-headed or short of breath at %.4g a minute", s.Rate)
}
