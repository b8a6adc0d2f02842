package diary

import (
	"cmp"
	"time"
)

// complete sets what a new session may leave open.
func (s *Session) complete() {
	s.ID = cmp.Or(s.ID, newID())
	s.Source = cmp.Or(s.Source, Paced)
	s.Date = ""
	if s.Boot != nil {
		s.Started = time.Time{} // the clock is not to be believed
	}
	if !s.Started.IsZero() {
		s.Date = s.Started.Format(time.DateOnly)
	}
}

// opening returns the events that a session begins with.
func (s *Session) opening() []Event {
	list := []Event{{Kind: Started, Detail: s.Plan}}
	if s.Boot != nil {
		list = append(list, Event{}.With(undated{s.Number, *s.Boot}))
	}
	if !s.Before.IsZero() {
		list = append(list, Event{}.With(Rating{BeforeSession, s.Before}))
	}
	if s.Cleared {
		list = append(list, Event{Kind: Cleared})
	}
	return list
}

func (e Ending) event() Event {
	return Event{At: e.At, Kind: Ended, Done: e.Done, Detail: string(e.Outcome)}
}

// paper says where on paper a session was ticked.
type paper struct {
	Number int `json:"n"` // which of its day's sessions
}

const maxDaily = 5 // sessions a day
