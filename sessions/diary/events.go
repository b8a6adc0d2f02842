package diary

import (
	"encoding/json"
	"fmt"
	"slices"
	"time"

	"glidepace/sessions"
)

// Kind says what an event is. There may be other kinds than these.
type Kind string

const (
	Started    Kind = "started"    // detail: [Session.Plan]
	Undated    Kind = "undated"    // there is no clock; detail: a [Boot], and [Session.Number] as n
	Repetition Kind = "repetition" // one is done
	Paused     Kind = "paused"
	Resumed    Kind = "resumed"
	Enough     Kind = "enough"   // for this set
	Stopped    Kind = "stopped"  // for symptoms
	Answered   Kind = "answered" // what became of a stop; detail: an [Answer]
	SoundLost  Kind = "sound-lost"
	SoundBack  Kind = "sound-back"
	Ended      Kind = "ended"   // detail: the outcome
	Rated      Kind = "rating"  // detail: a [Rating]
	Settled    Kind = "settled" // after the session; detail: a [Settling]
	Felt       Kind = "felt"    // after the session, where it was asked instead of rated; detail: a [Feeling]
	Noted      Kind = "note"    // detail: a [Note]
	Entered    Kind = "entered" // from paper; detail: a [Paper]
)

// Event is one thing that happened in a session.
type Event struct {
	At       time.Duration `json:"at_s"` // since the session's start, monotonic, pauses included; 0 when not known
	Kind     Kind          `json:"kind"`
	Exercise int           `json:"exercise"` // from 1; 0 where there is none, as with Set and Rep
	Side     string        `json:"side"`
	Set      int           `json:"set"`
	Rep      int           `json:"rep"`
	Done     Amount        `json:"done"`   // the session's totals by then; may be left zero where nothing was added
	Detail   string        `json:"detail"` // see [Detail]
}

// MarshalJSON writes the time of the event in seconds.
func (e Event) MarshalJSON() ([]byte, error) {
	type plain Event
	return json.Marshal(struct {
		At float64 `json:"at_s"`
		plain
	}{e.At.Seconds(), plain(e)})
}

// worst returns the one that weighs more: pain, then tingling, then breathing.
func worst(a, b sessions.Symptom) sessions.Symptom {
	rank := []sessions.Symptom{sessions.NoSymptom, sessions.Breathing, sessions.Tingling, sessions.Pain}
	return rank[max(0, slices.Index(rank, a), slices.Index(rank, b))]
}

// OnlyPause is the [Answer.Reply] that takes a stop back: there were no
// symptoms.
const OnlyPause = "pause"

// Answer is what became of a stop.
type Answer struct {
	// Reply is "settled", "pause" ([OnlyPause]), "pain", "breathing", "still"
	// (there when it should have settled), "none" (asked whether it is still
	// there, nobody answered), "too-often" or "quit".
	Reply   string           `json:"answer"`
	Symptom sessions.Symptom `json:"symptom"`
	After   float64          `json:"after_s"` // seconds since the stop

	// Where the session goes on eased: the rate of its breaths from here, in
	// breaths per minute, and the repetition with which the interrupted set
	// now ends. Otherwise 0.
	Rate        float64 `json:"rate_per_min,omitempty"`
	Repetitions int     `json:"reps,omitempty"`
}

// The moments of a [Rating].
const (
	BeforeSession = "before"
	AfterSession  = "after"
)

// Rating is a person's ratings at one moment. Of several at the same moment
// the last one holds.
type Rating struct {
	When string `json:"when"` // BeforeSession or AfterSession
	sessions.Ratings
}

// Feeling is how symptoms after a session compare with those before, where
// there are no ratings. Of several the last one holds.
type Feeling struct {
	Symptoms sessions.Felt `json:"symptoms"`
}

// Settling says whether symptoms that rose came back to where they were before
// the session, as timed after it.
type Settling struct {
	Settled bool    `json:"settled"`
	After   float64 `json:"after_s"` // seconds: until they were, or for which they were not
}

func (s Settling) words() string {
	if !s.Settled {
		return "not within " + span(s.After)
	}
	return "after " + span(s.After)
}

// Detail writes what an event's kind has as its detail, such as a [Rating], as
// [Event.Detail] holds it.
func Detail(of any) string {
	text, err := json.Marshal(of)
	if err != nil { // such as an infinite rate: better unreadable for the program than lost
		return fmt.Sprintf("%+v", of)
	}
	return string(text)
}

// detail reads an event's detail, false where it cannot be read.
func detail[T any](e Event) (T, bool) {
	var read, nothing T
	if json.Unmarshal([]byte(e.Detail), &read) != nil {
		return nothing, false
	}
	return read, true
}

// words is an event's detail for people; as it is where it has no words.
func (e Event) words() string {
	switch e.Kind {
	case Started:
		return "" // the plan is for programs
	case Answered:
		if a, ok := detail[Answer](e); ok {
			text := fmt.Sprintf("%s after %s", a.Reply, span(a.After))
			if a.Rate > 0 {
				text += fmt.Sprintf(", eased to %.3g breaths a minute", a.Rate)
			}
			if a.Repetitions > 0 {
				text += fmt.Sprintf(", the set to end with repetition %d", a.Repetitions)
			}
			return text
		}
	case Rated:
		if r, ok := detail[Rating](e); ok {
			return r.When + ": " + r.Words()
		}
	case Settled:
		if s, ok := detail[Settling](e); ok {
			return s.words()
		}
	case Felt:
		if f, ok := detail[Feeling](e); ok {
			return string(f.Symptoms)
		}
	case Noted:
		if n, ok := detail[Note](e); ok {
			return n.Text
		}
	case Undated:
		if u, ok := detail[undated](e); ok {
			return fmt.Sprintf("number %d, %s", u.Number, u.words())
		}
	case Entered:
		if s, ok := detail[Paper](e); ok {
			return fmt.Sprintf("number %d of the day", s.Number)
		}
	}
	return e.Detail
}

// span is a number of seconds as a length of time.
func span(s float64) string { return seconds(s).Round(time.Second).String() }

// telling are the kinds of events that gather reads, as SQL has a list.
const telling = "'" + Started + "', '" + Undated + "', '" + Stopped + "', '" + Answered + "', '" + Rated + "', '" +
	Settled + "', '" + Felt + "', '" + Noted + "', '" + Entered + "'"

// gather sets what the events tell of the session as a whole. A detail that
// cannot be read tells nothing, except that there was a stop.
func (s *Session) gather(events []Event) {
	s.Plan, s.Boot, s.Number, s.Before, s.After, s.Settling = "", nil, 0, sessions.Ratings{}, sessions.Ratings{}, nil
	s.Stops, s.Symptom, s.Felt, s.Notes = 0, "", "", nil
	open := false // a stop that nothing became of yet
	felt := func(what sessions.Symptom) {
		open = false
		if what != sessions.Pain && what != sessions.Breathing {
			what = sessions.Tingling // or not known: it was a stop for symptoms
		}
		s.Symptom = worst(s.Symptom, what)
	}
	for _, e := range events {
		switch e.Kind {
		case Started:
			s.Plan = e.Detail
		case Undated:
			if u, ok := detail[undated](e); ok {
				s.Boot, s.Number = &u.Boot, u.Number
			}
		case Entered:
			paper, _ := detail[Paper](e)
			s.Number = paper.Number
		case Stopped:
			if open {
				felt("")
			}
			open = true
			s.Stops++
		case Answered:
			a, _ := detail[Answer](e)
			if a.Reply == OnlyPause {
				open = false
				s.Stops = max(0, s.Stops-1)
				continue
			}
			felt(a.Symptom)
		case Rated:
			switch r, _ := detail[Rating](e); r.When {
			case BeforeSession:
				s.Before = r.Ratings
			case AfterSession:
				s.After = r.Ratings
			}
		case Settled:
			if settling, ok := detail[Settling](e); ok {
				s.Settling = &settling
			}
		case Felt:
			if f, ok := detail[Feeling](e); ok {
				s.Felt = f.Symptoms
			}
		case Noted:
			if n, ok := detail[Note](e); ok {
				s.Notes = append(s.Notes, n)
			}
		}
	}
	if open {
		felt("")
	}
}
