package pacer

import (
	"context"
	"slices"
	"time"

	"glidepace/sessions"
)

// Sound is what the patient hears. Its clock is the clock of the session: screen
// and buzzer wait for what is heard.
type Sound interface {
	// Play plays t from its start, at once, in place of what played before. A
	// timeline without steps is the end mark alone.
	Play(t *Timeline)
	// Hush silences at once.
	Hush()
	// Heard returns when the moment d after the start of the latest timeline is
	// heard, past or future. Without a device it is the moment of Play plus d.
	Heard(d time.Duration) time.Time
}

// Voice says what a person is to do whose eyes are elsewhere.
type Voice interface {
	// Say says what to do after e, in place of what plays, and returns how long it
	// speaks. If there is nothing to say, it silences and returns 0. Until the next
	// Play, Heard then tells of the words.
	Say(e Event) time.Duration
}

// answerWithin is how long the question whether it is back to where it was
// waits for an answer.
const answerWithin = 30 * time.Second

// Conductor runs timelines: it waits until each step is heard, then tells the
// followers.
type Conductor struct {
	Sound     Sound
	Followers []Follower
	// Voice is heard while the session stands still for symptoms and when it has ended
	// with them. It may be nil. It speaks on after Run: whoever feels unwell is asked
	// and shown what to do meanwhile.
	Voice Voice
	// Tail is how long the sound may ring on after the last step.
	Tail time.Duration
	// OneButton is for a person with one button and no screen. Commands count from
	// the first moment and however quickly they come, since the button is debounced
	// already. After the program stood still the session goes on by itself. No means
	// that nobody answered. And since the person cannot say what it is, a stop
	// during a neck glide is taken for a warning sign.
	OneButton bool
}

// Result is how a session ended and what was done in it.
type Result struct {
	Outcome sessions.Outcome
	Answer  Answer // with Symptoms: what ended it
	Done    Done
	Length  time.Duration // from the first sound to the end, pauses included
	Words   time.Duration // how long the voice still speaks, from its last Say on
}

// At the end of a session, followers that are behind get this long.
const grace = time.Second

// Run runs a session from the start of t to its end, or until ctx is done or
// somebody says Quit. A nil or closed channel means no commands. On return the
// sound is silent, but for the last words of the voice, and every follower, unless it is stuck, has had its events.
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
	r.speaks = r.result.Words > 0
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
	last      Command   // said last, whether it counted or not
	lastAt    time.Time
	heardAt   time.Time // when a command last meant something
	restarts  int       // after symptoms
	speaks    bool      // the voice says its last words

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
		switch said := r.await(r.onset(next)); said {
		case nothing:
			r.reach(next)
			next++
		case Toggle:
			return r.pause()
		default:
			if next, ok := r.obey(said); ok {
				return next
			}
		}
	}
	r.before += r.onset(len(r.timeline.Steps))
	return nil
}

// obey does what is said, and returns the timeline to go on with, nil when
// the session is over. It returns false for what means nothing now.
func (r *run) obey(said Command) (next *Timeline, ok bool) {
	switch said {
	case Stop, SayPain, SayBreath:
		r.standStill()
		return r.stop(r.OneButton && r.neck()), true
	case SayWarning:
		r.standStill()
		return r.stop(r.neck()), true
	case Enough:
		if !r.timeline.Steps[r.step].InSet() {
			return nil, false
		}
		r.standStill()
		r.result.Done.Sets++
		r.tell(EnoughSaid, r.step, time.Now())
		return r.timeline.Enough(r.step), true
	case Quit:
		r.standStill()
		r.result.Outcome = sessions.EndedEarly
		return nil, true
	}
	return nil, false
}

// onset returns the start of step i; after the last step, the end of the timeline.
func (r *run) onset(i int) time.Duration {
	if i == len(r.timeline.Steps) {
		return Seconds(r.timeline.Duration)
	}
	return r.timeline.Steps[i].Onset()
}

// neck reports whether a neck glide is running, or its set-up or shake.
func (r *run) neck() bool {
	e := r.timeline.ExerciseOf(r.timeline.Steps[r.step])
	return e != nil && e.Glide.Neck
}

// reach counts what has ended when step i begins, and tells that it begins.
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

// pause stands still until the person goes on. With one button, or where nobody can
// say anything, it goes on at once.
func (r *run) pause() *Timeline {
	r.standStill()
	r.tell(Paused, r.step, time.Now())
	for !r.OneButton && r.commands != nil {
		said := r.listen(nil)
		if said == Toggle {
			break
		}
		if next, ok := r.obey(said); ok {
			return next
		}
	}
	return r.goOn(r.timeline.GoOn(r.step))
}

// goOn goes on with what is left. A set that was interrupted in the pause after its
// last return is done, since nothing of it is left.
func (r *run) goOn(left *Timeline) *Timeline {
	if s := r.timeline.Steps[r.step]; s.InSet() {
		next := slices.IndexFunc(left.Steps, Step.InSet)
		if next < 0 || !sameSet(s, left.Steps[next]) {
			r.result.Done.Sets++
		}
	}
	return left
}

// standStill silences the session at once, unless it stands still already. The paced
// time stops here.
func (r *run) standStill() {
	if r.stands {
		return
	}
	start, end := r.onset(r.step), r.onset(r.step+1)
	at := start + time.Since(r.Sound.Heard(start))
	r.Sound.Hush()
	r.stands = true
	r.before += min(max(at, start), end)
}

// stop stands still for symptoms until they have settled or end the session. A
// warning sign ends it at once.
func (r *run) stop(warning bool) *Timeline {
	began, ease := time.Now(), r.timeline.Session().Ease
	ends := NoStop // what ends the session at once
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
			// Once the question is asked, this key could mean yes or no.
			if !asked {
				return r.answer(Settled, began)
			}
		case Yes:
			if asked {
				return r.answer(Settled, began)
			}
		case No, Enough: // one key says both
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

// answer tells what became of the stop that began then. It returns what to go on
// with, nil where the session ends.
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
	if r.Voice != nil && r.toBeSaid(e) {
		words := r.Voice.Say(e)
		if e.Kind == Answered {
			r.result.Words = words
		}
	}
}

// toBeSaid reports whether the person has to do something after e.
func (r *run) toBeSaid(e Event) bool {
	switch e.Kind {
	case Stopped:
		return e.Answer == NoStop // or the end follows at once
	case Answered:
		return e.Next == nil
	}
	return e.Kind == StillThere
}

// close silences the session and waits a little for the followers.
func (r *run) close() {
	if !r.speaks {
		r.Sound.Hush()
	}
	for _, b := range r.boxes {
		b.close()
	}
	late, cancel := context.WithTimeout(context.Background(), grace)
	defer cancel()
	for _, b := range r.boxes {
		select {
		case <-b.done:
		case <-late.Done():
			select { // the time is up: wait only for those that are done
			case <-b.done:
			default:
			}
		}
	}
}
