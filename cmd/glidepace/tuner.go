package main

import (
	"context"
	"fmt"
	"math"
	"strings"
	"time"

	"glidepace/cmd/glidepace/internal/console"
	"glidepace/pacer"
	"glidepace/pacer/rate"
	"glidepace/sessions"
)

// askEvery is how often comfort is asked for at most, mostStay how long a rate
// is kept up at most, deafToStop how long after the start a stop is not heard:
// the key that began may have been pressed twice. From memory, no source.
const (
	askEvery   = time.Minute
	mostStay   = 20 * time.Minute
	deafToStop = 2 * time.Second
)

// tuner seeks a comfortable way of breathing together with a person: it paces
// the breath at rest, changes it as the keys say, and asks how it feels.
//
// A change is a new timeline that takes over where the next inhale begins. It
// leads there in small steps (rate.Toward); a stage begins when the new rate
// and ratio are reached. On the way nothing else can be aimed at.
type tuner struct {
	sound pacer.Sound
	keys  <-chan rune // closed when no more come
	// piped says that keys are not pressed in earnest: those of a line are
	// taken at once, the next line when the next question is asked.
	piped  bool
	screen *console.StatusLine
	steps  bool          // go down by itself
	step   time.Duration // the length of a stage
	floor  float64       // nothing goes under this rate

	want   sessions.Breath // aimed at
	now    sessions.Breath // the breath under way
	half   string          // of it: "inhale" or "exhale"
	next   *pacer.Timeline // takes over at the next inhale; nil for none
	tried  []rate.Stage    // the last is under way
	since  time.Time       // when want was reached; zero on the way to it
	events <-chan pacer.Event
	hush   func() // ends the timeline under way
	began  time.Time
	silent time.Time // when the pacing ended

	ask      *time.Timer
	question question
	comfort  int  // said, while light-headedness is asked for
	waits    bool // for the next question, before more keys are read
	told     bool // that the breath is on its way
}

// question is what has been asked and not answered.
type question uint8

const (
	noQuestion question = iota
	askedComfort
	askedLightHeaded
)

// ending says how a tuner came to its end.
type ending uint8

const (
	goesOn  ending = iota
	left           // the person leaves
	wanted         // the person wants it written
	through        // nothing more is tried
)

// run paces until the person ends it or there is nothing more to be tried;
// why then says what ended it. It begins with start. On return there is
// silence.
func (t *tuner) run(ctx context.Context, start sessions.Breath) (end ending, why string) {
	t.ask = time.NewTimer(math.MaxInt64)
	defer t.ask.Stop()
	t.hush = func() {}
	defer func() {
		t.silence()
		t.leaveStage(t.silent)
		t.screen.Status("")
	}()
	second := time.NewTicker(time.Second)
	defer second.Stop()

	t.began, t.now, t.half = time.Now(), start, "inhale"
	if err := t.aim(start); err != nil {
		return through, err.Error()
	}
	t.lead(ctx)
	for end == goesOn {
		t.show()
		keys := t.keys
		if t.waits {
			keys = nil
		}
		select {
		case <-ctx.Done():
			return left, ""
		case e := <-t.events:
			end, why = t.follow(ctx, e)
		case <-t.ask.C:
			t.put(askedComfort)
		case k, open := <-keys:
			if !open {
				return left, ""
			}
			end, why = t.key(ctx, k)
		case <-second.C:
		}
	}
	return end, why
}

// lead paces on with the next timeline, at once.
func (t *tuner) lead(ctx context.Context) {
	t.hush()
	timeline := t.next
	t.next = nil
	ctx, cancel := context.WithCancel(ctx)
	events, done := make(chan pacer.Event), make(chan struct{})
	c := &pacer.Conductor{Sound: t.sound, Followers: []pacer.Follower{&relay{ctx, events}}}
	go func() {
		defer close(done)
		c.Run(ctx, timeline, nil)
	}()
	t.events = events
	t.hush = func() {
		cancel()
		<-done
	}
}

// relay hands events on until nobody wants them any more.
type relay struct {
	ctx context.Context
	to  chan<- pacer.Event
}

var _ pacer.Follower = (*relay)(nil)

// Follow implements pacer.Follower.
func (r *relay) Follow(e pacer.Event) {
	select {
	case r.to <- e:
	case <-r.ctx.Done():
	}
}

// follow takes note of what is heard.
func (t *tuner) follow(ctx context.Context, e pacer.Event) (end ending, why string) {
	switch e.Kind {
	case pacer.Ended:
		return through, fmt.Sprintf("%.0f minutes at one rate are enough", mostStay.Minutes())
	case pacer.Paused:
		return through, "the computer stood still, and the pacing with it"
	case pacer.Stepped:
	default:
		return goesOn, ""
	}
	step := e.Timeline.Steps[e.Step]
	switch step.Breath {
	case pacer.Exhale:
		t.half = "exhale"
	case pacer.Inhale:
		t.half = "inhale"
		if t.next != nil {
			t.lead(ctx) // its own inhale follows at once
			break
		}
		t.now.Rate, t.now.Ratio = step.Rate, e.Timeline.Session().Breath.Ratio
		if t.since.IsZero() && math.Abs(t.now.Rate-t.want.Rate) < 1e-9 {
			t.since = time.Now()
			t.ask.Reset(min(askEvery, t.step))
			t.screen.Line("Now at %s.", breathWords(t.want))
		}
	}
	return goesOn, ""
}

// aim leads to b from the next inhale on. It is not for the way to another
// breath. Where any breath on the way would not be within the hard limits it
// does nothing, and the error says so.
func (t *tuner) aim(b sessions.Breath) error {
	breaths := int(mostStay.Minutes() * min(t.now.Rate, b.Rate))
	next, err := pacer.AtRest(rate.Toward(t.now.Rate, b), breaths)
	if err != nil {
		return err
	}
	t.leaveStage(time.Now())
	t.tried = append(t.tried, rate.Stage{Rate: b.Rate, Ratio: b.Ratio})
	t.want, t.next, t.since, t.told = b, next, time.Time{}, false
	t.ask.Stop()
	if taper := rate.TaperTo(t.now.Rate, b.Rate); taper != nil {
		t.screen.Line("Going to %s, in %s. Softly, not deeply.", breathWords(b), sessions.Count(taper.Breaths, "small step"))
	} else if t.now.Ratio != b.Ratio {
		t.screen.Line("Going to %s.", breathWords(b))
	}
	return nil
}

// leaveStage says when the stage under way ended; one that was never reached is
// forgotten.
func (t *tuner) leaveStage(at time.Time) {
	n := len(t.tried)
	switch {
	case n == 0:
	case !t.since.IsZero():
		t.tried[n-1].Seconds = at.Sub(t.since).Seconds()
	case !t.tried[n-1].LightHeaded:
		t.tried = t.tried[:n-1]
	}
}

// silence ends the pacing.
func (t *tuner) silence() {
	if t.silent.IsZero() {
		t.hush()
		t.silent = time.Now()
	}
}

// key does what a key says. No key means anything else than in a session:
// there u is a pause and d a warning sign, and both mean nothing here.
func (t *tuner) key(ctx context.Context, k rune) (end ending, why string) {
	switch enter := k == '\n' || k == '\r'; {
	case enter && t.piped:
		t.waits = t.question == noQuestion
	case enter && time.Since(t.began) >= deafToStop:
		return t.stop(ctx)
	case k == 'q':
		return left, ""
	case k == 'w':
		if _, ok := rate.Recommend(t.tried); ok {
			return wanted, ""
		}
		t.screen.Line("Nothing to write yet: a rate must be tried for %s and then rated.", pacer.Clock(t.step.Seconds()))
	case k == 'b', k == 'y' && t.question == askedLightHeaded:
		return t.lightHeaded()
	case k == 'n' && t.question == askedLightHeaded:
		return t.answered()
	case k >= '0' && k <= '9':
		if !t.onTheWay() {
			t.rate(int(k - '0'))
		}
	case t.question == noQuestion && strings.ContainsRune("sfei", k) && !t.onTheWay():
		t.change(k)
	}
	return goesOn, ""
}

// onTheWay reports whether the breath is on its way to another, and says so
// once.
func (t *tuner) onTheWay() bool {
	if !t.since.IsZero() {
		return false
	}
	if !t.told {
		t.told = true
		t.screen.Line("Not yet: the breath is still on its way to %s.", breathWords(t.want))
	}
	return true
}

// change goes for another rate or ratio, as a key says.
func (t *tuner) change(k rune) {
	b := t.want
	switch k {
	case 's':
		next, why := rate.Offer(t.tried, b.Rate, t.floor, t.steps)
		if next == 0 {
			t.screen.Line("No slower: %s.", why)
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
	if b == t.want {
		t.screen.Line("That is the limit: %s.", breathWords(b))
	} else if err := t.aim(b); err != nil {
		t.screen.Line("Not possible: %v.", err)
	}
}

// put asks a question.
func (t *tuner) put(q question) {
	t.question, t.waits = q, false
	switch q {
	case askedComfort:
		t.screen.Line("How comfortable is it? 0 is not at all, 10 is the best.")
	case askedLightHeaded:
		t.screen.Line("Comfort %d, where 10 is the best. Light-headed or short of breath? y or n", t.comfort)
	}
}

// rate takes a comfort and goes on to the second question. Until that is
// answered another digit corrects it, and a 0 makes a 1 a 10.
func (t *tuner) rate(digit int) {
	if t.question == askedLightHeaded && t.comfort == 1 && digit == 0 {
		digit = 10
	}
	t.comfort = digit
	t.ask.Stop()
	t.put(askedLightHeaded)
}

// answered keeps what was said of a stage, and goes on from there.
func (t *tuner) answered() (end ending, why string) {
	t.question = noQuestion
	s := &t.tried[len(t.tried)-1]
	s.Comfort = append(s.Comfort, t.comfort)
	rest := t.step - time.Since(t.since)
	s.Whole = rest <= 0
	if lowest, _ := rate.LowestRate(t.tried); rest > 0 && s.Rate > lowest {
		t.screen.Line("Kept. It asks again at %s; only what is rated then can be written.", pacer.Clock(t.step.Seconds()))
		t.ask.Reset(min(askEvery, rest))
		return goesOn, ""
	}
	next, why := rate.Offer(t.tried, s.Rate, t.floor, t.steps)
	if t.steps {
		if next == 0 {
			return through, why
		}
		b := t.want
		b.Rate = next
		if err := t.aim(b); err != nil {
			return through, err.Error()
		}
		return goesOn, ""
	}
	if best, ok := rate.Recommend(t.tried); ok {
		t.screen.Line("Most comfortable so far: %s.", breathWords(sessions.Breath{Rate: best.Rate, Ratio: best.Ratio}))
	}
	if next == 0 {
		t.screen.Line("No slower from here: %s.", why)
	} else {
		t.screen.Line("Slower? s goes on to %.4g.", next)
	}
	t.ask.Reset(min(askEvery, t.step))
	return goesOn, ""
}

// stop ends the pacing at once, and then asks whether it was the breath.
func (t *tuner) stop(ctx context.Context) (end ending, why string) {
	t.silence()
	t.screen.Status("")
	t.screen.Line("Stopped. Breathe as you like. Light-headed or short of breath? y or n")
	switch awaitKey(ctx, t.keys, "bynq") {
	case 'b', 'y':
		return t.lightHeaded()
	case 'q':
		return left, ""
	}
	return through, fmt.Sprintf("stopped at %.3g a minute", t.now.Rate)
}

// lightHeaded ends the pacing: nobody is paced on who is light-headed. On the
// way to a rate it is the rate under way that counts.
func (t *tuner) lightHeaded() (end ending, why string) {
	t.silence()
	s := &t.tried[len(t.tried)-1]
	s.LightHeaded = true
	if t.since.IsZero() {
		s.Rate = t.now.Rate
	}
	if t.question == askedLightHeaded {
		s.Comfort = append(s.Comfort, t.comfort)
	}
	t.screen.Line("Leave the pacing now. Breathe as you like, and sit until it has passed.")
	return through, fmt.Sprintf("light-headed or short of breath at %.4g a minute", s.Rate)
}

// show shows where things are.
func (t *tuner) show() {
	text := fmt.Sprintf("%s  %.3g a minute, %s", t.half, t.now.Rate, t.now.Ratio)
	switch {
	case t.question == askedComfort:
		text += "  comfort, 0 to 10 (best)?"
	case t.question == askedLightHeaded:
		text += "  light-headed? y or n"
	case t.since.IsZero():
		text += fmt.Sprintf(", on the way to %.3g", t.want.Rate)
	default:
		text += "  for " + pacer.Clock(time.Since(t.since).Seconds())
	}
	t.screen.Status(text + "  Enter stops")
}

func breathWords(b sessions.Breath) string {
	return fmt.Sprintf("%.4g a minute, %s", b.Rate, b.Ratio)
}
