package diary

import (
	"cmp"
	"encoding/json"
	"fmt"
	"slices"
	"time"

	"glidepace/sessions"
)

// Kind says what an event is. A diary may have other kinds than these.
type Kind string

const (
	Started    Kind = "started"    // detail: [Session.Plan]
	Undated    Kind = "undated"    // detail: a [Boot], and [Session.Number] as n
	Repetition Kind = "repetition" // one is done
	Paused     Kind = "paused"
	Resumed    Kind = "resumed"
	Enough     Kind = "enough"   // for this set
	Stopped    Kind = "stopped"  // for symptoms, or so it seemed; detail: a [Stopping]
	Answered   Kind = "answered" // what a stop was for and led to; detail: an [Answer]
	SoundLost  Kind = "sound-lost"
	SoundBack  Kind = "sound-back"
	Ended      Kind = "ended"        // detail: the outcome
	Rated      Kind = "rating"       // detail: a [Rating]
	Settled    Kind = "settled"      // after the session; detail: a [Settling]
	Felt       Kind = "felt"         // after the session, instead of ratings; detail: a [Feeling]
	Noted      Kind = "note"         // detail: a [Note]
	Entered    Kind = "entered"      // from paper; detail: where on paper
	Cleared    Kind = "cleared"      // [Session.Cleared]
	Morning    Kind = "next-morning" // said of the session when the next one is begun; detail: whether it was worse
	WrongDay   Kind = "wrong-day"    // [Session.WrongDay], said later; detail: what day it was
)

// Event is one thing that happened in a session.
type Event struct {
	At       time.Duration `json:"at_s"` // since the session's start, monotonic, pauses included; 0 if not known
	Kind     Kind          `json:"kind"`
	Exercise int           `json:"exercise"` // from 1, like Set and Rep; 0 if there is none
	Side     string        `json:"side"`
	Set      int           `json:"set"`
	Rep      int           `json:"rep"`
	Done     Amount        `json:"done"`   // the session's totals by then; may be zero if nothing was added
	Detail   string        `json:"detail"` // a [Detail] in JSON, or text
}

// MarshalJSON writes the time of the event in seconds.
func (e Event) MarshalJSON() ([]byte, error) {
	type plain Event
	return json.Marshal(struct {
		At float64 `json:"at_s"`
		plain
	}{e.At.Seconds(), plain(e)})
}

// Stopping says where a stop was. Diaries of format 1 lack this detail.
type Stopping struct {
	InSet bool `json:"in_set"` // else in the lead-in, a set-up or a shake
}

// Stop is a stop for symptoms.
type Stop struct {
	Symptom  sessions.Symptom `json:"symptom"`
	InSet    bool             `json:"in_set"`
	Exercise int              `json:"exercise,omitempty"` // where it was, as of an [Event]
	Side     string           `json:"side,omitempty"`
	Set      int              `json:"set,omitempty"`
	Rep      int              `json:"rep,omitempty"`
	Settled  float64          `json:"settled_after_s,omitempty"`  // seconds until the symptoms were back to where they were; 0 if they were not
	Rate     float64          `json:"eased_to_per_min,omitempty"` // breaths a minute with which the session went on; 0 if it did not
}

// weights has the symptoms in order of weight, the lightest first.
var weights = []sessions.Symptom{sessions.NoSymptom, sessions.Breathing, sessions.NotSaid, sessions.Tingling, sessions.Pain, sessions.WarningSign}

// worst returns the one that weighs more.
func worst(a, b sessions.Symptom) sessions.Symptom {
	return weights[max(0, slices.Index(weights, a), slices.Index(weights, b))]
}

// Replies with a meaning here.
const (
	backAgain  = "settled" // the symptoms are where they were before
	onlyPause  = "pause"   // there were no symptoms: it was no stop
	Nothing    = "nothing" // of what was asked after the end: the last stop was none
	stillThere = "still"   // the symptoms, when they should have settled
	noReply    = "none"    // nobody said whether they were still there
)

// Answer says what a stop was for and what it led to. One after the end says
// what the last stop was for, if that was not said before.
type Answer struct {
	// Reply is "settled", "pause", "still", "none", "pain", "breathing",
	// "warning-sign", "too-often" or "quit"; after the end a symptom or [Nothing].
	Reply   string           `json:"answer"`
	Symptom sessions.Symptom `json:"symptom"`
	After   float64          `json:"after_s"` // seconds since the stop

	// If the session goes on eased: its breaths per minute from here, and the
	// repetition with which the interrupted set now ends. Else 0.
	Rate        float64 `json:"rate_per_min,omitempty"`
	Repetitions int     `json:"reps,omitempty"`
}

// replyWords are replies in words for people; other replies are words already.
var replyWords = map[string]string{onlyPause: "only a pause,", Nothing: "nothing of these", stillThere: "still there", noReply: "no answer",
	"warning-sign": "warning sign", "too-often": "too often", "quit": "left"}

func (a Answer) words() string {
	text := cmp.Or(replyWords[a.Reply], a.Reply)
	if a.After > 0 {
		text += " after " + span(a.After)
	}
	if a.Rate > 0 {
		text += fmt.Sprintf(", eased to %.3g breaths a minute", a.Rate)
	}
	if a.Repetitions > 0 {
		text += fmt.Sprintf(", the set to end with repetition %d", a.Repetitions)
	}
	return text
}

// The moments of a [Rating].
const (
	BeforeSession = "before"
	AfterSession  = "after"
)

// Rating is a person's ratings at one moment. The last of several holds.
type Rating struct {
	When string `json:"when"` // BeforeSession or AfterSession
	sessions.Ratings
}

// Feeling says how symptoms after a session compare with those before, without
// ratings. The last of several holds.
type Feeling struct {
	Symptoms sessions.Felt `json:"symptoms"`
}

// morning says whether symptoms were worse until the morning after a session.
// The last of several holds.
type morning struct {
	Symptoms sessions.NextMorning `json:"symptoms"`
	Said     time.Time            `json:"said,omitzero"` // to the second; zero if not known
}

// correction is the day that it really was, as somebody said after a session on
// a later one.
type correction struct {
	Today string `json:"today"`
}

// Settling says whether symptoms that rose in a session were timed to be back to
// where they were before it.
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

// words returns an event's detail for people, unchanged if it cannot be read.
func (e Event) words() string {
	switch e.Kind {
	case Started:
		return "" // the plan is for programs
	case Cleared:
		return "somebody said that the clinician has cleared the neck glide"
	case Answered:
		return inWords(e, Answer.words)
	case Rated:
		return inWords(e, func(r Rating) string { return r.When + ": " + r.InWords() })
	case Settled:
		return inWords(e, Settling.words)
	case Felt:
		return inWords(e, func(f Feeling) string { return string(f.Symptoms) })
	case Noted:
		return inWords(e, func(n Note) string { return n.Text })
	case Undated:
		return inWords(e, func(u undated) string { return fmt.Sprintf("number %d, %s", u.Number, u.words()) })
	case Stopped:
		return inWords(e, func(s Stopping) string {
			switch {
			case !s.InSet:
				return "outside a set"
			case e.Rep == 0:
				return "in a set"
			}
			return "" // the repetition says it
		})
	case Morning:
		return inWords(e, func(m morning) string { return string(m.Symptoms) })
	case WrongDay:
		return inWords(e, func(c correction) string { return "somebody said that it was only " + c.Today })
	case Entered:
		return inWords(e, func(p paper) string { return fmt.Sprintf("number %d of the day", p.Number) })
	}
	return e.Detail
}

// inWords returns the words for an event's detail.
func inWords[T Detail](e Event, words func(T) string) string {
	if d, ok := detail[T](e); ok {
		return words(d)
	}
	return e.Detail
}

// span is a number of seconds as a length of time.
func span(s float64) string { return seconds(s).Round(time.Second).String() }

// corrects returns the outcome of a session that has ended, and what it becomes when
// this is said after it: no symptoms ended it, or some did after all. Both are "" for
// what says nothing of that.
func (e Event) corrects() (was, is sessions.Outcome) {
	a, _ := detail[Answer](e)
	switch {
	case e.Kind != Answered:
	case a.Reply == Nothing:
		return sessions.Symptoms, sessions.EndedEarly
	case a.Symptom != sessions.NoSymptom && a.Symptom != sessions.NotSaid:
		return sessions.EndedEarly, sessions.Symptoms
	}
	return "", ""
}

// stopOf returns the stop that is the last of some events. In format 1 a stop
// that nobody explained was one for tingling, and the event before it shows
// whether it was in the shake: a repetition or the end of the same set. If in
// doubt it was in a set.
func stopOf(events []Event) Stop {
	n := len(events) - 1
	e := events[n]
	s := Stop{Symptom: sessions.NotSaid, Exercise: e.Exercise, Side: e.Side, Set: e.Set, Rep: e.Rep}
	if e.Detail != "" {
		where, known := detail[Stopping](e)
		s.InSet = where.InSet || !known
		return s
	}
	s.Symptom, s.InSet = sessions.Tingling, e.Exercise > 0
	if n > 0 && e.Rep == 0 {
		b := events[n-1]
		shake := (b.Kind == Repetition || b.Kind == Enough) && b.Exercise == e.Exercise && b.Side == e.Side && b.Set == e.Set
		s.InSet = s.InSet && !shake
	}
	return s
}

// gather sets what the events tell of the session. A detail that cannot be read
// tells nothing, except that there was a stop. Details that are known need no decoding.
func (s *Session) gather(events []Event, known details) {
	s.Plan, s.Boot, s.Number, s.Before, s.After, s.Settling = "", nil, 0, sessions.Ratings{}, sessions.Ratings{}, nil
	s.Stops, s.Felt, s.Notes, s.Cleared, s.WrongDay, s.NextMorning, s.EndedBy, s.NotInTime = nil, "", nil, false, false, "", "", false
	open, reply := false, "" // of the last stop: whether it has no answer yet, and its answer
	for i, e := range events {
		if !e.readable(known) {
			s.Unread = append(s.Unread, fmt.Sprintf("event %s, detail: %.60q", e.Kind, e.Detail))
		}
		switch e.Kind {
		case Started:
			s.Plan = e.Detail
		case Undated:
			if u, ok := detailFrom[undated](known, e); ok {
				s.Boot, s.Number = &u.Boot, u.Number
			}
		case Entered:
			paper, _ := detailFrom[paper](known, e)
			s.Number = paper.Number
		case Stopped:
			s.Stops = append(s.Stops, stopOf(events[:i+1]))
			open, reply = true, ""
		case Answered:
			a, _ := detailFrom[Answer](known, e)
			s.explainStop(a, open)
			if open {
				open, reply = false, a.Reply
				if n := len(s.Stops); n > 0 && a.Reply == backAgain {
					s.Stops[n-1].Settled, s.Stops[n-1].Rate = a.After, a.Rate
				}
			}
		case Rated:
			switch r, _ := detailFrom[Rating](known, e); r.When {
			case BeforeSession:
				s.Before = r.Ratings
			case AfterSession:
				s.After = r.Ratings
			}
		case Settled:
			if settling, ok := detailFrom[Settling](known, e); ok {
				s.Settling = &settling
			}
		case Felt:
			if f, ok := detailFrom[Feeling](known, e); ok {
				s.Felt = f.Symptoms
			}
		case Noted:
			if n, ok := detailFrom[Note](known, e); ok {
				s.Notes = append(s.Notes, n)
			}
		case Cleared:
			s.Cleared = true
		case WrongDay:
			s.WrongDay = true
		case Morning:
			if m, ok := detailFrom[morning](known, e); ok {
				s.NextMorning = m.Symptoms
			}
		}
	}
	if s.Outcome == sessions.Symptoms {
		s.EndedBy = sessions.NotSaid
		if n := len(s.Stops); n > 0 {
			s.EndedBy = s.Stops[n-1].Symptom
		}
		s.NotInTime = reply == stillThere || reply == noReply
	}
}

// explainStop sets what an answer says of the last stop. First says that it has
// no answer yet.
func (s *Session) explainStop(a Answer, first bool) {
	last := len(s.Stops) - 1
	switch {
	case last < 0:
	case a.Reply == onlyPause || a.Reply == Nothing:
		s.Stops = s.Stops[:last]
	case !slices.Contains(weights, a.Symptom) || a.Symptom == sessions.NoSymptom || a.Symptom == sessions.NotSaid:
	case first || s.Stops[last].Symptom == sessions.NotSaid:
		s.Stops[last].Symptom = a.Symptom
	default:
		s.Stops[last].Symptom = worst(s.Stops[last].Symptom, a.Symptom)
	}
}

// Symptom returns the one that weighs most at a stop, "" if there was no stop.
func (s Session) Symptom() (w sessions.Symptom) {
	for _, stop := range s.Stops {
		w = worst(w, stop.Symptom)
	}
	return w
}
