package main

import (
	"context"
	"fmt"
	"io"
	"math"
	"sync"
	"time"

	"glidepace/pacer"
	"glidepace/sessions"
)

// askEvery is how often comfort is asked for at most.
const askEvery = time.Minute

// tunerKeys is what the keys of a tuner do, in a line.
const tunerKeys = "d slower, u faster, e longer exhale, i longer inhale, 0 to 10 comfort now, b light-headed, w write, q leave"

// tuner seeks a comfortable way of breathing together with a person: it paces
// the breath at rest, changes it as the keys say, and asks how it feels.
//
// A change is a new timeline that takes over where the next inhale begins. It
// leads there in small steps (pacer.Toward); a stage begins when the new rate
// and ratio are reached.
type tuner struct {
	sound pacer.Sound
	keys  <-chan rune // closed when no more come
	// piped says that keys are not pressed in earnest: those of a line are
	// taken at once, the next line when the next question is asked.
	piped  bool
	screen *statusLine
	steps  bool          // go down pacer.RateSteps
	step   time.Duration // the length of a step; without steps, of a stage until it asks

	want   sessions.Breath // aimed at
	now    sessions.Breath // the breath under way
	turn   bool            // lead towards want from the next inhale on
	tried  []pacer.Stage   // the last is under way
	since  time.Time       // when that was reached; zero on the way to it
	events <-chan pacer.Event
	hush   func() // ends the pacing

	ask      *time.Timer
	question question
	comfort  int  // answered, while light-headedness is asked for
	waits    bool // for the next question, before more keys are read
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
	through        // there is no rate to go on with
)

// run paces until the person ends it or there is nothing more to be tried;
// why then says what ended it. It begins at the rate of start, or on the way
// from it to the first step. On return there is silence.
func (t *tuner) run(ctx context.Context, start sessions.Breath) (end ending, why string) {
	t.ask = time.NewTimer(math.MaxInt64)
	defer t.ask.Stop()
	t.hush = func() {}
	defer func() {
		t.hush()
		t.leaveStage()
		t.screen.status("")
	}()
	second := time.NewTicker(time.Second)
	defer second.Stop()

	t.now, t.want = start, start
	if t.steps {
		t.want.Rate, _ = pacer.Offer(nil, start.Rate, true)
	}
	t.aim(t.want)
	t.lead(ctx)
	for {
		keys := t.keys
		if t.waits {
			keys = nil
		}
		select {
		case <-ctx.Done():
			return left, ""
		case e := <-t.events:
			t.follow(ctx, e)
		case <-t.ask.C:
			t.put(askedComfort)
		case k, open := <-keys:
			if !open {
				return left, ""
			}
			if end, why := t.key(k); end != goesOn {
				return end, why
			}
		case <-second.C:
		}
		t.show()
	}
}

// lead paces on from the breath under way towards the one wanted, at once.
func (t *tuner) lead(ctx context.Context) {
	t.hush()
	t.turn = false
	b := pacer.Toward(t.now, t.want)
	const minutes = 40 // of a timeline; it is taken up anew then
	breaths := int(minutes * min(b.Rate, t.now.Rate))
	timeline, err := pacer.AtRest(b, breaths)
	if err != nil {
		panic(err) // try and the steps keep within the limits
	}
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
func (t *tuner) follow(ctx context.Context, e pacer.Event) {
	if e.Kind == pacer.Ended {
		t.lead(ctx)
		return
	}
	if e.Kind != pacer.Stepped {
		return
	}
	step := e.Timeline.Steps[e.Step]
	switch step.Breath {
	case pacer.Exhale:
		t.screen.half = "exhale"
	case pacer.Inhale:
		t.screen.half = "inhale"
		if t.turn {
			t.lead(ctx) // its own inhale follows at once
			return
		}
		t.now.Rate, t.now.Ratio = step.Rate, e.Timeline.Session().Breath.Ratio
		t.turn = t.now.Ratio != t.want.Ratio
		if t.since.IsZero() && !t.turn && math.Abs(t.now.Rate-t.want.Rate) < 1e-9 {
			t.since = time.Now()
			t.ask.Reset(min(askEvery, t.step))
			t.screen.line("Now at %s.", breathWords(t.want))
		}
	}
}

// aim sets what is aimed at from the next inhale on.
func (t *tuner) aim(b sessions.Breath) {
	t.leaveStage()
	t.tried = append(t.tried, pacer.Stage{Rate: b.Rate, Ratio: b.Ratio})
	t.want, t.turn, t.since = b, true, time.Time{}
	t.ask.Stop()
	if taper := pacer.TaperTo(t.now.Rate, b.Rate); taper != nil {
		t.screen.line("To %s in small steps, %s. Softly, not deeply.", breathWords(b), count(taper.Breaths, "breath"))
	} else if t.now.Ratio != b.Ratio {
		t.screen.line("To %s.", breathWords(b))
	}
}

// leaveStage ends the stage under way; one that was never reached is
// forgotten.
func (t *tuner) leaveStage() {
	if len(t.tried) == 0 {
		return
	}
	s := t.stage()
	if t.since.IsZero() && !s.LightHeaded {
		t.tried = t.tried[:len(t.tried)-1]
	}
}

// stage returns the stage under way, with its length so far.
func (t *tuner) stage() *pacer.Stage {
	s := &t.tried[len(t.tried)-1]
	if !t.since.IsZero() {
		s.Seconds = time.Since(t.since).Seconds()
	}
	return s
}

// key does what a key says.
func (t *tuner) key(k rune) (end ending, why string) {
	switch {
	case k == '\n' || k == '\r':
		t.waits = t.piped && t.question == noQuestion
	case k == 'q':
		return left, ""
	case k == 'w':
		if _, ok := pacer.Recommend(t.tried); ok {
			return wanted, ""
		}
		t.screen.line("There is nothing to write yet: first a comfort, 0 to 10, and whether light-headed.")
	case k == 'b', k == 'y' && t.question == askedLightHeaded:
		return t.lightHeaded()
	case k == 'n' && t.question == askedLightHeaded:
		return t.answered()
	case k >= '0' && k <= '9':
		t.rate(int(k - '0'))
	case t.question != noQuestion:
	case k == 'd':
		t.slower()
	case k == 'u':
		b := t.want
		b.Rate = pacer.Faster(b.Rate)
		t.try(b)
	case k == 'e':
		b := t.want
		b.Ratio = pacer.LongerExhale(b.Ratio)
		t.try(b)
	case k == 'i':
		b := t.want
		b.Ratio = pacer.LongerInhale(b.Ratio)
		t.try(b)
	}
	return goesOn, ""
}

func (t *tuner) slower() {
	b := t.want
	if t.steps {
		next, why := pacer.Offer(t.tried, b.Rate, true)
		if next == 0 {
			t.screen.line("No slower: %s.", why)
			return
		}
		b.Rate = next
	} else {
		b.Rate = pacer.Slower(b.Rate)
		if lowest, why := pacer.LowestRate(t.tried); b.Rate < lowest {
			t.screen.line("No slower: %s.", why)
			return
		}
	}
	t.try(b)
}

// try aims at b if that keeps within the limits, on the way too.
func (t *tuner) try(b sessions.Breath) {
	onTheWay := b // the ratio changes before the rate does
	onTheWay.Rate = t.now.Rate
	for _, b := range []sessions.Breath{b, onTheWay} {
		if _, err := pacer.AtRest(b, 1); err != nil {
			t.screen.line("Not so: %v.", err)
			return
		}
	}
	if b.Rate == t.want.Rate && b.Ratio == t.want.Ratio {
		t.screen.line("Not so: %s is at the limit.", breathWords(b))
		return
	}
	t.aim(b)
}

// put asks a question.
func (t *tuner) put(q question) {
	t.question, t.waits = q, false
	switch q {
	case askedComfort:
		t.screen.line("How comfortable is it, 0 (not at all) to 10?")
	case askedLightHeaded:
		t.screen.line("Comfort %d. Light-headed? y or n", t.comfort)
	}
}

// rate takes a comfort and goes on to the second question. Until that is
// answered another digit corrects it, and a 0 makes a 1 a 10.
func (t *tuner) rate(digit int) {
	if t.since.IsZero() {
		t.screen.line("On the way still: rate it when the breath is there.")
		return
	}
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
	s := t.stage()
	s.Comfort = append(s.Comfort, t.comfort)
	lowest, _ := pacer.LowestRate(t.tried)
	if rest := t.step - time.Since(t.since); t.steps && rest > 0 && t.want.Rate > lowest {
		t.ask.Reset(min(askEvery, rest))
		return goesOn, ""
	}
	next, why := pacer.Offer(t.tried, t.want.Rate, t.steps)
	switch {
	case t.steps && next == 0:
		return through, why
	case t.steps:
		b := t.want
		b.Rate = next
		t.aim(b)
		return goesOn, ""
	}
	best, _ := pacer.Recommend(t.tried)
	so := "Most comfortable so far: " + breathWords(sessions.Breath{Rate: best.Rate, Ratio: best.Ratio})
	if next == 0 {
		t.screen.line("%s. No slower from here: %s.", so, why)
	} else {
		t.screen.line("%s. Slower? d goes on to %.4g.", so, next)
	}
	t.ask.Reset(min(askEvery, t.step))
	return goesOn, ""
}

// lightHeaded ends the pacing: nobody is paced on who is light-headed. On the
// way to a rate it is held against the rate under way.
func (t *tuner) lightHeaded() (end ending, why string) {
	s := t.stage()
	s.LightHeaded = true
	if t.since.IsZero() {
		s.Rate = math.Round(10*t.now.Rate) / 10
	}
	if t.question == askedLightHeaded {
		s.Comfort = append(s.Comfort, t.comfort)
	}
	t.question = noQuestion
	t.screen.line("Leave the pacing now and breathe as you like.")
	return through, fmt.Sprintf("light-headed at %.4g a minute", s.Rate)
}

// show shows where things are.
func (t *tuner) show() {
	text := fmt.Sprintf("%s  %.3g a minute, %s", t.screen.half, t.now.Rate, ratioWords(t.now.Ratio))
	switch {
	case t.question == askedComfort:
		text += "  comfort 0 to 10?"
	case t.question == askedLightHeaded:
		text += "  light-headed? y or n"
	case t.since.IsZero():
		text += fmt.Sprintf(", on the way to %.3g", t.want.Rate)
	default:
		text += "  for " + pacer.Clock(time.Since(t.since).Seconds())
	}
	t.screen.status(text)
}

func breathWords(b sessions.Breath) string {
	return fmt.Sprintf("%.4g a minute, %s", b.Rate, ratioWords(b.Ratio))
}

// ratioWords writes a ratio as session files have it.
func ratioWords(r sessions.Ratio) string {
	return plain(r.Inhale) + ":" + plain(r.Exhale)
}

// statusLine writes lines for people and keeps one below them that is written
// over, where that can be (live).
type statusLine struct {
	w    io.Writer
	live bool
	half string // of the breath

	mu    sync.Mutex
	shown string
}

func (s *statusLine) line(format string, args ...any) {
	s.above(s.w, []byte(fmt.Sprintf(format, args...)+"\n"))
}

// above writes whole lines to w, above the status.
func (s *statusLine) above(w io.Writer, lines []byte) (int, error) {
	s.mu.Lock()
	defer s.mu.Unlock()
	if s.shown != "" {
		io.WriteString(s.w, "\r\x1b[K")
	}
	n, err := w.Write(lines)
	io.WriteString(s.w, s.shown)
	return n, err
}

// status sets the line below; "" takes it away.
func (s *statusLine) status(text string) {
	s.mu.Lock()
	defer s.mu.Unlock()
	if s.live && text != s.shown {
		io.WriteString(s.w, "\r"+text+"\x1b[K")
		s.shown = text
	}
}

// noteWriter writes lines about trouble above the status.
type noteWriter struct {
	screen *statusLine
	w      io.Writer
}

func (n noteWriter) Write(b []byte) (int, error) { return n.screen.above(n.w, b) }
