// Package tuner paces the breath, takes the keys that change it and asks how
// comfortable each rate is. Package rate says what to try next.
package tuner

import (
	"context"
	"fmt"
	"math"
	"time"

	"glidepace/cmd/glidepace/internal/console"
	"glidepace/pacer"
	"glidepace/pacer/rate"
	"glidepace/sessions"
)

// All from memory, no source.
const (
	askEvery   = time.Minute      // the longest time between two questions for comfort
	longest    = 20 * time.Minute // at one rate
	ignoreStop = 2 * time.Second  // at the start: Enter may have been pressed twice to begin
)

// Tuner paces the breath at rest, changes it as the keys say, and asks how it
// feels.
//
// A change is a new timeline, which takes over where the next inhale begins. It
// leads to the new breath in small steps (rate.Toward). The stage begins when the
// new rate and ratio are reached; until then nothing else can be chosen.
type Tuner struct {
	Sound pacer.Sound
	Keys  Keys
	// Piped says that the keys come from a file or a pipe. The keys of a line are
	// taken at once; the next line is read when the next question is asked.
	Piped  bool
	Screen *console.StatusLine
	Steps  bool          // go down without being told to
	Step   time.Duration // how long a stage is tried
	Floor  float64       // the slowest rate
}

// Result is what was tried, and how it ended.
type Result struct {
	Tried []rate.Stage
	End   Ending
	Why   string // why it is over; "" where the person ended it
}

// Ending says who ended the tuning.
type Ending uint8

const (
	running Ending = iota
	Left           // the person, without a wish to keep anything
	Write          // the person, to have the best breath written down
	Over           // the tuner: there is nothing more to try
)

// Run paces, from the breath start on, until the person ends it or there is
// nothing more to try. On return there is silence.
func (t Tuner) Run(ctx context.Context, start sessions.Breath) Result {
	r := &run{Tuner: t, began: time.Now(), current: start, phase: "inhale", ask: time.NewTimer(math.MaxInt64), hush: func() {}}
	defer r.ask.Stop()
	if err := r.aim(start); err != nil {
		r.over("%v", err)
	} else {
		r.lead(ctx)
		r.loop(ctx)
	}
	r.silence()
	r.leaveStage(r.silent)
	r.Screen.Status("")
	return r.Result
}

// run is one run of a tuner.
type run struct {
	Tuner
	Result // the last stage tried is under way

	target  sessions.Breath
	current sessions.Breath
	phase   string          // of the breath: "inhale" or "exhale"
	reached time.Time       // when target was reached; zero on the way to it
	next    *pacer.Timeline // takes over at the next inhale; nil for none
	events  <-chan pacer.Event
	hush    func() // ends the timeline under way
	began   time.Time
	silent  time.Time // when the pacing ended; zero until then

	ask      *time.Timer // for comfort
	question question
	comfort  int  // as answered, while light-headedness is asked for
	waits    bool // for the next question, before more keys are read
	toldWait bool // that the breath is on its way
}

func (r *run) over(why string, args ...any) { r.End, r.Why = Over, fmt.Sprintf(why, args...) }

func (r *run) loop(ctx context.Context) {
	second := time.NewTicker(time.Second)
	defer second.Stop()
	for r.End == running {
		r.show()
		keys := r.Keys
		if r.waits {
			keys = nil
		}
		select {
		case <-ctx.Done():
			r.End = Left
		case e := <-r.events:
			r.follow(ctx, e)
		case <-r.ask.C:
			r.askComfort()
		case k, open := <-keys:
			if !open {
				r.End = Left
				break
			}
			r.key(ctx, k)
		case <-second.C:
		}
	}
}

// lead paces on with the next timeline, at once.
func (r *run) lead(ctx context.Context) {
	r.hush()
	timeline := r.next
	r.next = nil
	ctx, cancel := context.WithCancel(ctx)
	events, done := make(chan pacer.Event), make(chan struct{})
	c := &pacer.Conductor{Sound: r.Sound, Followers: []pacer.Follower{&relay{ctx, events}}}
	go func() {
		defer close(done)
		c.Run(ctx, timeline, nil)
	}()
	r.events = events
	r.hush = func() {
		cancel()
		<-done
	}
}

// relay hands events on until its context ends.
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
func (r *run) follow(ctx context.Context, e pacer.Event) {
	switch e.Kind {
	case pacer.Ended:
		r.over("%.0f minutes at one rate are enough", longest.Minutes())
	case pacer.Paused:
		r.over("the computer stopped for a while, and the pacing with it")
	case pacer.Stepped:
		switch step := e.Timeline.Steps[e.Step]; {
		case step.Breath == pacer.Exhale:
			r.phase = "exhale"
		case step.Breath != pacer.Inhale:
		case r.next != nil:
			r.phase = "inhale"
			r.lead(ctx) // its own inhale follows at once
		default:
			r.phase = "inhale"
			r.current.Rate, r.current.Ratio = step.Rate, e.Timeline.Session().Breath.Ratio
			if r.reached.IsZero() && math.Abs(step.Rate-r.target.Rate) < 1e-9 {
				r.reached = time.Now()
				r.ask.Reset(min(askEvery, r.Step))
				r.Screen.Line("Now at %s.", describe(r.target))
			}
		}
	}
}

// aim leads to b from the next inhale on. Call it only when the last target was
// reached. If a breath on the way would be outside the hard limits, it changes
// nothing and returns an error.
func (r *run) aim(b sessions.Breath) error {
	breaths := int(longest.Minutes() * min(r.current.Rate, b.Rate))
	next, err := pacer.AtRest(rate.Toward(r.current.Rate, b), breaths)
	if err != nil {
		return err
	}
	r.leaveStage(time.Now())
	r.Tried = append(r.Tried, rate.Stage{Rate: b.Rate, Ratio: b.Ratio})
	r.target, r.next, r.reached, r.toldWait = b, next, time.Time{}, false
	r.ask.Stop()
	if taper := rate.TaperTo(r.current.Rate, b.Rate); taper != nil {
		r.Screen.Line("Going to %s, in %s. Softly, not deeply.", describe(b), sessions.Count(taper.Breaths, "small step"))
	} else if r.current.Ratio != b.Ratio {
		r.Screen.Line("Going to %s.", describe(b))
	}
	return nil
}

// leaveStage notes how long the current stage lasted. If its rate was never reached,
// the stage is forgotten.
func (r *run) leaveStage(at time.Time) {
	n := len(r.Tried)
	switch {
	case n == 0:
	case !r.reached.IsZero():
		r.Tried[n-1].Seconds = at.Sub(r.reached).Seconds()
	case !r.Tried[n-1].LightHeaded:
		r.Tried = r.Tried[:n-1]
	}
}

// silence ends the pacing.
func (r *run) silence() {
	if r.silent.IsZero() {
		r.hush()
		r.silent = time.Now()
	}
}

// show writes the status line.
func (r *run) show() {
	text := fmt.Sprintf("%s  %.3g a minute, %s", r.phase, r.current.Rate, r.current.Ratio)
	switch {
	case r.question == askedComfort:
		text += "  comfort, 0 to 10 (best)?"
	case r.question == askedLightHeaded:
		text += "  light-headed? y or n"
	case r.reached.IsZero():
		text += fmt.Sprintf(", on the way to %.3g", r.target.Rate)
	default:
		text += "  for " + pacer.Clock(time.Since(r.reached).Seconds())
	}
	r.Screen.Status(text + "  Enter stops")
}

func describe(b sessions.Breath) string { return fmt.Sprintf("%.4g a minute, %s", b.Rate, b.Ratio) }

// StartBreath is the breath of a session file at another rate. If the file gives
// lengths of inhale and exhale, it keeps their ratio, rounded as a file has it.
func StartBreath(b sessions.Breath, rate float64) sessions.Breath {
	start := sessions.Breath{Match: b.Match, Pause: b.Pause, Rate: rate, Ratio: b.Ratio}
	if b.Rate == 0 {
		part := func(long, short time.Duration) float64 {
			return min(max(1, math.Round(100*long.Seconds()/short.Seconds())/100), 10)
		}
		start.Ratio = sessions.Ratio{Inhale: part(b.Inhale, b.Exhale), Exhale: part(b.Exhale, b.Inhale)}
	}
	return start
}
