package pacer

import "time"

// Sound is what the patient hears. Its clock is the clock of the session:
// whatever is shown or felt waits for what is heard.
type Sound interface {
	// Play sounds t from its start, at once, in place of whatever sounded.
	Play(t *Timeline)
	// Hush silences at once.
	Hush()
	// Heard returns when the moment d after the start of the timeline played
	// last is (was, will be) heard. It always has an answer; without a device
	// it is the moment of Play plus d.
	Heard(d time.Duration) time.Time
}

// Kind says what happened in a session.
type Kind uint8

const (
	// Began: a timeline was taken up; the first of the session, or a new one
	// after a pause or a set ended early. Event.Timeline is it.
	Began Kind = iota
	// Stepped: step Event.Step of Event.Timeline begins at Event.At.
	Stepped
	// Repeated: the repetition of step Event.Step, a return, is done.
	Repeated
	// Paused: the session stands still, in step Event.Step.
	Paused
	// EnoughSaid: the set of step Event.Step was ended early. A Began follows.
	EnoughSaid
	// Ended: nothing follows. Event.Outcome says why.
	Ended
)

// Outcome is how a session ended.
type Outcome uint8

const (
	// Completed: every set was done, or ended by the patient as enough.
	Completed Outcome = iota
	// EndedEarly: the patient ended it before its end.
	EndedEarly
)

// Event is one thing that happens in a session, as followers get it.
type Event struct {
	Kind     Kind
	Timeline *Timeline
	Step     int           // index into Timeline.Steps
	At       time.Time     // when it is heard, on the monotonic clock
	Session  time.Duration // paced time of the session so far: pauses not counted
	Outcome  Outcome       // with Ended
}

// Follower is what follows a session: a screen, a buzzer, a diary. Every
// follower gets all events in order on a goroutine of its own, so one that is
// slow or stuck delays nobody else.
type Follower interface {
	Follow(Event)
}
