// Package tuner finds, together with a person, the rate and the ratio at which
// breathing is most comfortable.
package tuner

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

// How long a rate is tried until comfort is asked for, and how long a
// step of a run that goes down by itself takes. From memory, no source.
const (
	DefaultStage = time.Minute
	DefaultStep  = 2 * time.Minute
)

// Tuner seeks a comfortable way of breathing together with a person: it paces
// the breath at rest, changes it as the keys say, and asks how it feels.
//
// A change is a new timeline that takes over where the next inhale begins. It
// leads there in small steps (rate.Toward); a stage begins when the new rate
// and ratio are reached. On the way nothing else can be aimed at.
type Tuner struct {
	Sound pacer.Sound
	Keys  <-chan rune // closed when no more come
	// piped says that keys are not pressed in earnest: those of a line are
	// taken at once, the next line when the next question is asked.
	Piped  bool
	Screen *console.StatusLine
	Steps  bool          // go down by itself
	Step   time.Duration // the length of a stage
	Floor  float64       // nothing goes under this rate

	want   sessions.Breath // aimed at
	now    sessions.Breath // the breath under way
	half   string          // of it: "inhale" or "exhale"
	next   *pacer.Timeline // takes over at the next inhale; nil for none
	Tried  []rate.Stage    // the last is under way
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

// Ending says how a tuner came to its end.
type Ending uint8

const (
	goesOn Ending = iota
	Left          // the person leaves
	Write         // the person wants it written
	Over          // nothing more is tried
)

// Run paces until the person ends it or there is nothing more to be tried;
// why then says what ended it. It begins with start. On return there is
// silence.
func (t *Tuner) Run(ctx context.Context, start sessions.Breath) (end Ending, why string) {
	t.ask = time.NewTimer(math.MaxInt64)
	defer t.ask.Stop()
	t.hush = func() {}
	defer func() {
		t.silence()
		t.leaveStage(t.silent)
		t.Screen.Status("")
	}()
	second := time.NewTicker(time.Second)
	defer second.Stop()

	t.began, t.now, t.half = time.Now(), start, "inhale"
	if err := t.aim(start); err != nil {
		return Over, err.Error()
	}
	t.lead(ctx)
	for end == goesOn {
		t.show()
		keys := t.Keys
		if t.waits {
			keys = nil
		}
		select {
		case <-ctx.Done():
			return Left, ""
		case e := <-t.events:
			end, why = t.follow(ctx, e)
		case <-t.ask.C:
			t.put(askedComfort)
		case k, open := <-keys:
			if !open {
				return Left, ""
			}
			end, why = t.key(ctx, k)
		case <-second.C:
		}
	}
	return end, why
}

// lead paces on with the next timeline, at once.
func (t *Tuner) lead(ctx context.Context) {
	t.hush()
	timeline := t.next
	t.next = nil
	ctx, cancel := context.WithCancel(ctx)
	events, done := make(chan pacer.Event), make(chan struct{})
	c := &pacer.Conductor{Sound: t.Sound, Followers: []pacer.Follower{&relay{ctx, events}}}
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
func (t *Tuner) follow(ctx context.Context, e pacer.Event) (end Ending, why string) {
	switch e.Kind {
	case pacer.Ended:
		return Over, fmt.Sprintf("%.0f minutes at one rate are enough", mostStay.Minutes())
	case pacer.Paused:
		return Over, "the computer stood still, and the pacing with it"
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
			t.ask.Reset(min(askEvery, t.Step))
			t.Screen.Line("Now at %s.", breathWords(t.want))
		}
	}
	return goesOn, ""
}

// aim leads to b from the next inhale on. It is not for the way to another
// breath. Where any breath on the way would not be within the hard limits it
// does nothing, and the error says so.
func (t *Tuner) aim(b sessions.Breath) error {
	breaths := int(mostStay.Minutes() * min(t.now.Rate, b.Rate))
	next, err := pacer.AtRest(rate.Toward(t.now.Rate, b), breaths)
	if err != nil {
		return err
	}
	t.leaveStage(time.Now())
	t.Tried = append(t.Tried, rate.Stage{Rate: b.Rate, Ratio: b.Ratio})
	t.want, t.next, t.since, t.told = b, next, time.Time{}, false
	t.ask.Stop()
	if taper := rate.TaperTo(t.now.Rate, b.Rate); taper != nil {
		t.Screen.Line("Going to %s, in %s. Softly, not deeply.", breathWords(b), sessions.Count(taper.Breaths, "small step"))
	} else if t.now.Ratio != b.Ratio {
		t.Screen.Line("Going to %s.", breathWords(b))
	}
	return nil
}

// leaveStage says when the stage under way ended; one that was never reached is
// forgotten.
func (t *Tuner) leaveStage(at time.Time) {
	n := len(t.Tried)
	switch {
	case n == 0:
	case !t.since.IsZero():
		t.Tried[n-1].Seconds = at.Sub(t.since).Seconds()
	case !t.Tried[n-1].LightHeaded:
		t.Tried = t.Tried[:n-1]
	}
}

// silence ends the pacing.
func (t *Tuner) silence() {
	if t.silent.IsZero() {
		t.hush()
		t.silent = time.Now()
	}
}

// key does what a key says. No key means anything else than in a session:
// there u is a pause and d a warning sign, and both mean nothing here.
func (t *Tuner) key(ctx context.Context, k rune) (end Ending, why string) {
	switch enter := k == '\n' || k == '\r'; {
	case enter && t.Piped:
		t.waits = t.question == noQuestion
	case enter && time.Since(t.began) >= deafToStop:
		return t.stop(ctx)
	case k == 'q':
		return Left, ""
	case k == 'w':
		if _, ok := rate.Recommend(t.Tried); ok {
			return Write, ""
		}
		t.Screen.Line("Nothing to write yet: a rate must be tried for %s and then rated.", pacer.Clock(t.Step.Seconds()))
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
func (t *Tuner) onTheWay() bool {
	if !t.since.IsZero() {
		return false
	}
	if !t.told {
		t.told = true
		t.Screen.Line("Not yet: the breath is still on its way to %s.", breathWords(t.want))
	}
	return true
}

// change goes for another rate or ratio, as a key says.
func (t *Tuner) change(k rune) {
	b := t.want
	switch k {
	case 's':
		next, why := rate.Offer(t.Tried, b.Rate, t.Floor, t.Steps)
		if next == 0 {
			t.Screen.Line("No slower: %s.", why)
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
		t.Screen.Line("That is the limit: %s.", breathWords(b))
	} else if err := t.aim(b); err != nil {
		t.Screen.Line("Not possible: %v.", err)
	}
}

// put asks a question.
func (t *Tuner) put(q question) {
	t.question, t.waits = q, false
	switch q {
	case askedComfort:
		t.Screen.Line("How comfortable is it? 0 is not at all, 10 is the best.")
	case askedLightHeaded:
		t.Screen.Line("Comfort %d, where 10 is the best. Light-headed or short of breath? y or n", t.comfort)
	}
}

// rate takes a comfort and goes on to the second question. Until that is
// answered another digit corrects it, and a 0 makes a 1 a 10.
func (t *Tuner) rate(digit int) {
	if t.question == askedLightHeaded && t.comfort == 1 && digit == 0 {
		digit = 10
	}
	t.comfort = digit
	t.ask.Stop()
	t.put(askedLightHeaded)
}

// answered keeps what was said of a stage, and goes on from there.
func (t *Tuner) answered() (end Ending, why string) {
	t.question = noQuestion
	s := &t.Tried[len(t.Tried)-1]
	s.Comfort = append(s.Comfort, t.comfort)
	rest := t.Step - time.Since(t.since)
	s.Whole = rest <= 0
	if lowest, _ := rate.LowestRate(t.Tried); rest > 0 && s.Rate > lowest {
		t.Screen.Line("Kept. It asks again at %s; only what is rated then can be written.", pacer.Clock(t.Step.Seconds()))
		t.ask.Reset(min(askEvery, rest))
		return goesOn, ""
	}
	next, why := rate.Offer(t.Tried, s.Rate, t.Floor, t.Steps)
	if t.Steps {
		if next == 0 {
			return Over, why
		}
		b := t.want
		b.Rate = next
		if err := t.aim(b); err != nil {
			return Over, err.Error()
		}
		return goesOn, ""
	}
	if best, ok := rate.Recommend(t.Tried); ok {
		t.Screen.Line("Most comfortable so far: %s.", breathWords(sessions.Breath{Rate: best.Rate, Ratio: best.Ratio}))
	}
	if next == 0 {
		t.Screen.Line("No slower from here: %s.", why)
	} else {
		t.Screen.Line("Slower? s goes on to %.4g.", next)
	}
	t.ask.Reset(min(askEvery, t.Step))
	return goesOn, ""
}

// stop ends the pacing at once, and then asks whether it was the breath.
func (t *Tuner) stop(ctx context.Context) (end Ending, why string) {
	t.silence()
	t.Screen.Status("")
	t.Screen.Line("Stopped. Breathe as you like. Light-headed or short of breath? y or n")
	switch AwaitKey(ctx, t.Keys, "bynq") {
	case 'b', 'y':
		return t.lightHeaded()
	case 'q':
		return Left, ""
	}
	return Over, fmt.Sprintf("stopped at %.3g a minute", t.now.Rate)
}

// lightHeaded ends the pacing: nobody is paced on who is light-headed. On the
// way to a rate it is the rate under way that counts.
func (t *Tuner) lightHeaded() (end Ending, why string) {
	t.silence()
	s := &t.Tried[len(t.Tried)-1]
	s.LightHeaded = true
	if t.since.IsZero() {
		s.Rate = t.now.Rate
	}
	if t.question == askedLightHeaded {
		s.Comfort = append(s.Comfort, t.comfort)
	}
	t.Screen.Line("Leave the pacing now. Breathe as you like, and sit until it has passed.")
	return Over, fmt.Sprintf("light-headed or short of breath at %.4g a minute", s.Rate)
}

// show shows where things are.
func (t *Tuner) show() {
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
	t.Screen.Status(text + "  Enter stops")
}

func breathWords(b sessions.Breath) string {
	return fmt.Sprintf("%.4g a minute, %s", b.Rate, b.Ratio)
}

// StartBreath is the breath of a file at another rate, and with a ratio where
// the file gives lengths.
func StartBreath(b sessions.Breath, rate float64) sessions.Breath {
	start := sessions.Breath{Match: b.Match, Pause: b.Pause, Rate: rate, Ratio: b.Ratio}
	if b.Rate == 0 {
		start.Ratio = sessions.Ratio{Inhale: 1, Exhale: 1}
		if x := math.Round(100*b.Exhale.Seconds()/b.Inhale.Seconds()) / 100; x >= 1 {
			start.Ratio.Exhale = min(x, 10)
		} else {
			start.Ratio.Inhale = min(math.Round(100*b.Inhale.Seconds()/b.Exhale.Seconds())/100, 10)
		}
	}
	return start
}
