package pacer

import (
	"context"
	"glidepace/sessions"
	"slices"
	"time"
)

// Sound is what the patient hears. Its clock is the clock of the session:
// whatever is shown or felt waits for what is heard.
type Sound interface {
	// Play sounds t from its start, at once, in place of whatever sounded.
	// A timeline without steps is the end mark alone.
	Play(t *Timeline)
	// Hush silences at once.
	Hush()
	// Heard returns when the moment d after the start of the timeline played
	// last is (was, will be) heard. It always has an answer; without a device
	// it is the moment of Play plus d.
	Heard(d time.Duration) time.Time
}

// Command is what a person says to a running session.
type Command uint8

const (
	nothing Command = iota
	// Toggle pauses at once; in a pause it goes on.
	Toggle
	// Enough ends the set under way: on to the shake. It is no fault.
	// Outside a set it means nothing.
	Enough
	// Quit ends the session.
	Quit
	// Stop stops for symptoms, from anywhere in the session. Once stopped,
	// Stop and Toggle mean that they have settled.
	Stop
	// NoSymptoms says, once stopped, that it was only a pause.
	NoSymptoms
	// SayPain and SayBreath say, once stopped, what is felt. Before that they
	// stop: said by mistake, they end nothing.
	SayPain
	SayBreath
	// SayWarning says that there is a warning sign of the neck glide. While one
	// is under way, or its set-up or shake, and once stopped in a session that
	// holds one, it ends the session; elsewhere it stops as Stop does.
	SayWarning
	// Yes and No answer whether it is back to where it was.
	Yes
	No
)

// How long keys mean nothing, so that a key pressed twice does no harm: at the
// start of a session, after a stop, and when it goes on after symptoms. What
// can only end a session is heard at once.
const (
	DeafAtStart     = 2 * time.Second
	DeafAfterStop   = 5 * time.Second
	DeafWhenGoingOn = 3 * time.Second
)

// A key that is held down repeats faster than keyRepeat, its first repeat
// included, and counts once. While the session runs that holds for mostRepeat
// only: whoever goes on pressing wants it to stop.
const (
	keyRepeat  = 600 * time.Millisecond
	mostRepeat = time.Second
)

// A wait that comes back this much late means that the program itself stood
// still, as when the computer slept: the patient did not go on either.
const stalled = time.Second

// answerWithin is how long the question whether it is back to where it was
// waits for an answer.
const answerWithin = 30 * time.Second

// Conductor runs timelines: it waits until each step is heard and tells the
// followers.
type Conductor struct {
	Sound     Sound
	Followers []Follower
	// Tail is how long the sound may ring on after the last step.
	Tail time.Duration
	// OneButton is for a person who has one button and no screen. Commands
	// count from the first moment on and however quickly they follow, as the
	// button has heard its own bounce already. A session that stood still
	// because the program did goes on by itself. No, which nobody is there to
	// say, means that nobody answered. And since nobody can say what it is, a
	// stop while a neck glide is paced is taken for a warning sign.
	OneButton bool
}

// Result is how a session ended and what was done in it.
type Result struct {
	Outcome sessions.Outcome
	Answer  Answer // with Symptoms: what ended it
	Done    Done
	Length  time.Duration // from the first sound to the end, pauses included
}

// A wait looks this often whether the moment it waits for has moved: the
// clock of what is heard is measured again and again, and leaps after a
// dropout.
const lookAgain = 100 * time.Millisecond

// The end of a session waits this long for followers that are behind.
const grace = time.Second

// Run runs a session from the start of t to its end, or until ctx is done or
// commands says Quit. A nil or closed channel means no commands. On return
// the sound is silent and every follower has had its events, except one that
// is stuck.
func (c *Conductor) Run(ctx context.Context, t *Timeline, commands <-chan Command) Result {
	r := &run{Conductor: c, ctx: ctx, commands: commands, began: time.Now(), result: Result{Outcome: sessions.Completed}}
	if !c.OneButton {
		r.deafUntil = r.began.Add(DeafAtStart)
	}
	for _, f := range c.Followers {
		r.boxes = append(r.boxes, newMailbox(f))
	}
	defer r.close()

	for t != nil {
		r.timeline, r.step, r.stands = t, 0, false
		c.Sound.Play(t)
		t = r.play()
	}
	r.result.Length = time.Since(r.began)
	r.tell(Ended, r.step, time.Now())
	if r.result.Outcome == sessions.Completed {
		r.await(Seconds(r.timeline.Duration) + c.Tail)
	}
	return r.result
}

// run is the state of one session.
type run struct {
	*Conductor
	ctx      context.Context
	commands <-chan Command
	boxes    []*mailbox
	began    time.Time

	deafUntil time.Time // commands mean nothing until then
	stands    bool      // paused or stopped
	last      Command   // said last, and when
	lastAt    time.Time
	heardAt   time.Time // when a command last meant something
	restarts  int       // after symptoms

	timeline *Timeline     // the one playing
	step     int           // index of the step under way
	before   time.Duration // paced time of the timelines before this one
	result   Result
}

// play conducts the timeline to its end. It returns the timeline to go on
// with, nil when the session is over.
func (r *run) play() *Timeline {
	if len(r.timeline.Steps) == 0 {
		return nil // only the tail is left to be heard
	}
	r.tell(Began, 0, r.Sound.Heard(0))
	for next := 0; next <= len(r.timeline.Steps); {
		switch r.await(r.onset(next)) {
		case nothing:
			r.reach(next)
			next++
		case Toggle:
			return r.pause()
		case Stop, SayPain, SayBreath:
			r.stand()
			return r.stop(r.OneButton && r.neck())
		case SayWarning:
			r.stand()
			return r.stop(r.neck())
		case Enough:
			if r.timeline.Steps[r.step].InSet() {
				r.stand()
				return r.enough()
			}
		case Quit:
			r.stand()
			return r.quit()
		}
	}
	r.before += r.onset(len(r.timeline.Steps))
	return nil
}

// onset returns the start of step i, the end of the timeline after the last.
func (r *run) onset(i int) time.Duration {
	if i == len(r.timeline.Steps) {
		return Seconds(r.timeline.Duration)
	}
	return r.timeline.Steps[i].Onset()
}

// ends reports whether the command can only end a session.
func (c Command) ends() bool {
	return c == Quit || c == SayPain || c == SayBreath || c == SayWarning
}

// neck reports whether a neck glide is under way, or its set-up or shake.
func (r *run) neck() bool {
	e := r.timeline.ExerciseOf(r.timeline.Steps[r.step])
	return e != nil && e.Glide.Neck
}

// await waits until the moment d of the timeline is heard, and then returns
// nothing, or until something is said.
func (r *run) await(d time.Duration) Command {
	for {
		before := time.Now()
		left := time.Until(r.Sound.Heard(d))
		if time.Since(before) > stalled {
			return Toggle
		}
		if left <= 0 {
			return nothing
		}
		timer := time.NewTimer(min(left, lookAgain))
		said := r.listen(timer.C)
		timer.Stop()
		switch {
		case said != nothing:
			return said
		case time.Since(before) > lookAgain+stalled:
			return Toggle
		}
	}
}

// listen returns what is said, or nothing when the timer fires first or, without
// a timer, when nothing more can be said.
func (r *run) listen(timer <-chan time.Time) Command {
	for {
		select {
		case <-timer:
			return nothing
		case <-r.ctx.Done():
			return Quit
		case said, open := <-r.commands:
			if open && r.counts(said, time.Now()) {
				return said
			}
			if !open {
				r.commands = nil
				if timer == nil {
					return nothing
				}
			}
		}
	}
}

// counts reports whether what is said now means something. While the session
// runs, what means nothing leaves no trace: it keeps no stop away.
func (r *run) counts(said Command, now time.Time) bool {
	deaf := !said.ends() && now.Before(r.deafUntil)
	if deaf && !r.stands {
		return false
	}
	held := !r.OneButton && said == r.last && now.Sub(r.lastAt) < keyRepeat &&
		(r.stands || now.Sub(r.heardAt) < mostRepeat)
	r.last, r.lastAt = said, now
	if deaf || held {
		return false
	}
	r.heardAt = now
	return true
}

// reach counts what ends at the start of step i and tells that it begins.
func (r *run) reach(i int) {
	steps, at := r.timeline.Steps, r.Sound.Heard(r.onset(i))
	if i > 0 {
		last := steps[i-1]
		if last.Breath == Inhale && (i == len(steps) || !r.timeline.FlowsOn(i)) {
			r.result.Done.Breaths++
		}
		if last.InSet() && (i == len(steps) || !sameSet(last, steps[i]) || !steps[i].InSet()) {
			r.result.Done.Sets++
		}
		if last.Move == Return {
			r.result.Done.Repetitions++
			r.tell(Repeated, i-1, at)
		}
	}
	if i < len(steps) {
		r.step = i
		r.tell(Stepped, i, at)
	}
}

// pause stands still until the person goes on.
func (r *run) pause() *Timeline {
	r.stand()
	r.tell(Paused, r.step, time.Now())
	for !r.OneButton && r.commands != nil {
		switch r.listen(nil) {
		case Toggle:
			return r.goOn(r.timeline.GoOn(r.step))
		case Stop, SayPain, SayBreath:
			return r.stop(false)
		case SayWarning:
			return r.stop(r.neck())
		case Enough:
			if r.timeline.Steps[r.step].InSet() {
				return r.enough()
			}
		case Quit:
			return r.quit()
		}
	}
	return r.goOn(r.timeline.GoOn(r.step)) // nobody is there who could say so
}

// goOn goes on with what is left. A set that was interrupted in the pause
// after its last return is done: nothing of it is left.
func (r *run) goOn(left *Timeline) *Timeline {
	if s := r.timeline.Steps[r.step]; s.InSet() {
		next := slices.IndexFunc(left.Steps, Step.InSet)
		if next < 0 || !sameSet(s, left.Steps[next]) {
			r.result.Done.Sets++
		}
	}
	return left
}

func (r *run) enough() *Timeline {
	r.result.Done.Sets++
	r.tell(EnoughSaid, r.step, time.Now())
	return r.timeline.Enough(r.step)
}

func (r *run) quit() *Timeline {
	r.result.Outcome = sessions.EndedEarly
	return nil
}

// stand silences at once. The paced time stops here.
func (r *run) stand() {
	start, end := r.onset(r.step), r.onset(r.step+1)
	at := start + time.Since(r.Sound.Heard(start))
	r.Sound.Hush()
	r.stands = true
	r.before += min(max(at, start), end)
}

// stop stands still for symptoms, until they have settled or end the session. A
// warning sign ends it at once.
func (r *run) stop(warning bool) *Timeline {
	began, ease := time.Now(), r.timeline.Session().Ease
	ends := NoStop // unless it does at once
	switch {
	case warning:
		ends = WarningSign
	case r.restarts >= ease.Tries:
		ends = TooOften
	}
	r.deliver(Event{Kind: Stopped, Step: r.step, At: began, Session: r.before, Answer: ends})
	if ends != NoStop {
		return r.answer(ends, began)
	}
	r.deafUntil = began.Add(DeafAfterStop)
	limit := time.NewTimer(ease.SettleWithin)
	defer limit.Stop()
	for asked := false; ; {
		switch r.listen(limit.C) {
		case nothing:
			if asked {
				return r.answer(NoAnswer, began)
			}
			asked = true
			r.tell(StillThere, r.step, time.Now())
			limit.Reset(answerWithin)
		case Stop, Toggle:
			// Once asked, an Enter may mean yes as well as no.
			if !asked {
				return r.answer(Settled, began)
			}
		case Yes:
			if asked {
				return r.answer(Settled, began)
			}
		case No, Enough: // a key may say both
			if asked && r.OneButton {
				return r.answer(NoAnswer, began)
			} else if asked {
				return r.answer(Still, began)
			}
		case NoSymptoms:
			return r.answer(OnlyPause, began)
		case SayPain:
			return r.answer(Pain, began)
		case SayBreath:
			return r.answer(Breathing, began)
		case SayWarning:
			if r.timeline.Neck() {
				return r.answer(WarningSign, began)
			}
		case Quit:
			return r.answer(Left, began)
		}
	}
}

// answer tells what became of the stop that began then, and returns what to
// go on with, nil where the session ends.
func (r *run) answer(a Answer, began time.Time) (next *Timeline) {
	switch a {
	case Settled:
		r.restarts++
		r.deafUntil = time.Now().Add(DeafWhenGoingOn)
		next = r.goOn(r.timeline.GoOnEased(r.step))
	case OnlyPause:
		next = r.goOn(r.timeline.GoOn(r.step))
	default:
		r.result.Outcome, r.result.Answer = sessions.Symptoms, a
	}
	now := time.Now()
	r.deliver(Event{Kind: Answered, Step: r.step, At: now, Session: r.before, Answer: a, After: now.Sub(began), Next: next})
	return next
}

// tell tells every follower.
func (r *run) tell(k Kind, step int, at time.Time) {
	e := Event{Kind: k, Step: step, At: at, Session: r.before, Outcome: r.result.Outcome}
	switch k {
	case Stepped:
		e.Session += r.onset(step)
	case Repeated:
		e.Session += r.onset(step + 1)
	}
	r.deliver(e)
}

func (r *run) deliver(e Event) {
	e.Timeline, e.Done = r.timeline, r.result.Done
	for _, b := range r.boxes {
		b.put(e)
	}
}

// close silences, and waits a little for the followers.
func (r *run) close() {
	r.Sound.Hush()
	for _, b := range r.boxes {
		b.close()
	}
	late, cancel := context.WithTimeout(context.Background(), grace)
	defer cancel()
	for _, b := range r.boxes {
		select {
		case <-b.done:
		case <-late.Done():
			select { // a stuck one hides none of those that are done
			case <-b.done:
			default:
			}
		}
	}
}
