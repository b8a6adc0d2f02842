package pacer

import (
	"sync"
	"time"

	"glidepace/sessions"
)

// Kind says what happened in a session.
type Kind uint8

const (
	Began      Kind = iota // a timeline begins, the first of the session or the one to go on with
	Stepped                // step Event.Step of Event.Timeline begins at Event.At
	Repeated               // the repetition that ends with step Event.Step is done
	Paused                 // the session stands still in step Event.Step
	EnoughSaid             // the set of step Event.Step was ended early; Began follows, or Ended after the last set
	Stopped                // the session stands still for symptoms in step Event.Step
	StillThere             // by now the symptoms should have settled; the person is asked whether it is back to where it was
	Answered               // what became of a stop: Event.Answer, Event.After it; Began follows, or Ended
	Ended                  // Event.Outcome says why; nothing follows
)

// Answer is what became of a stop for symptoms.
type Answer uint8

const (
	NoStop    Answer = iota // nothing was stopped, or nothing has come of the stop yet
	Settled                 // tingling or numbness is back to where it was before the session, which goes on eased
	OnlyPause               // there were no symptoms; the session goes on as before

	// These end the session.
	Pain
	Breathing   // light-headed, short of breath or tingling around the mouth
	WarningSign // of the neck glide
	Still       // the symptoms have not settled in time
	NoAnswer    // nobody said whether they have
	TooOften    // the session has been restarted as often as it may be
	Left        // the patient ended it after the stop
)

var answerNames = [...]string{NoStop: "", Settled: "settled", OnlyPause: "pause", Pain: "pain", Breathing: "breathing",
	WarningSign: "warning-sign", Still: "still", NoAnswer: "none", TooOften: "too-often", Left: "quit"}

// String returns the name that diaries hold.
func (a Answer) String() string { return answerNames[a] }

// Symptom returns what was felt; sessions.NotSaid where the answer says only that
// something was.
func (a Answer) Symptom() sessions.Symptom {
	switch a {
	case NoStop, OnlyPause:
		return sessions.NoSymptom
	case Pain:
		return sessions.Pain
	case Breathing:
		return sessions.Breathing
	case WarningSign:
		return sessions.WarningSign
	}
	return sessions.NotSaid
}

// Event is one thing that happens in a session, as followers get it.
type Event struct {
	Kind     Kind
	Timeline *Timeline
	Step     int              // index into Timeline.Steps
	At       time.Time        // when it is heard, on the monotonic clock
	Session  time.Duration    // paced time so far, without pauses
	Done     Done             // by then
	Outcome  sessions.Outcome // with Ended
	Answer   Answer           // with Answered; with Stopped where it ends the session at once
	After    time.Duration    // with Answered: how long after the stop
	Next     *Timeline        // with Answered: what to go on with; nil where the session ends
}

// Done is how much of a session was done.
type Done struct {
	Repetitions int // whose return has ended
	Breaths     int // inhales breathed to their end
	Sets        int // done to the end, or ended by the patient as enough
}

// Follower is what follows a session: a screen, a buzzer, a diary. Each gets all
// events in order on a goroutine of its own, so that a slow or stuck follower delays
// nobody else. It can tell from At that it is late.
type Follower interface {
	Follow(Event)
}

// mailbox hands events to one follower. It takes any number without blocking; a
// session has some hundreds.
type mailbox struct {
	mu     sync.Mutex
	ready  *sync.Cond
	queue  []Event
	closed bool
	done   chan struct{} // closed when the follower has had all events
}

func newMailbox(f Follower) *mailbox {
	m := &mailbox{done: make(chan struct{})}
	m.ready = sync.NewCond(&m.mu)
	go func() {
		defer close(m.done)
		for {
			e, ok := m.take()
			if !ok {
				return
			}
			f.Follow(e)
		}
	}()
	return m
}

func (m *mailbox) put(e Event) {
	m.mu.Lock()
	defer m.mu.Unlock()
	m.queue = append(m.queue, e)
	m.ready.Signal()
}

func (m *mailbox) close() {
	m.mu.Lock()
	defer m.mu.Unlock()
	m.closed = true
	m.ready.Signal()
}

func (m *mailbox) take() (Event, bool) {
	m.mu.Lock()
	defer m.mu.Unlock()
	for len(m.queue) == 0 && !m.closed {
		m.ready.Wait()
	}
	if len(m.queue) == 0 {
		return Event{}, false
	}
	e := m.queue[0]
	m.queue = m.queue[1:]
	return e, true
}
