package diary

import "encoding/json"

// add takes an event into the session. Until its end this updates length and totals.
// After its end an answer may correct the outcome.
func (s *Session) add(e Event) {
	s.Events = append(s.Events, e)
	if was, is := e.corrects(); s.Outcome == was {
		s.Outcome = is
	}
	if s.Outcome == "" {
		s.Length = max(s.Length, e.At)
		s.Done = s.Done.atLeast(e.Done)
	}
}

// end takes the end of a session into it.
func (s *Session) end(e Ending) {
	s.Events = append(s.Events, e.event())
	s.Length, s.Outcome, s.Done = e.At, e.Outcome, e.Done
	if !s.Started.IsZero() {
		s.Ended = e.When
	}
}

// UnmarshalJSON reads what MarshalJSON writes.
func (s *Session) UnmarshalJSON(text []byte) error {
	type plain Session
	var read struct {
		plain
		Length float64 `json:"length_s"`
		Stops  int     `json:"stops"`
		Events []Event `json:"events"`
	}
	if err := json.Unmarshal(text, &read); err != nil {
		return err
	}
	*s = Session(read.plain)
	s.Length, s.Events = seconds(read.Length), read.Events
	return nil
}

// UnmarshalJSON reads what MarshalJSON writes.
func (e *Event) UnmarshalJSON(text []byte) error {
	type plain Event
	var read struct {
		At float64 `json:"at_s"`
		plain
	}
	if err := json.Unmarshal(text, &read); err != nil {
		return err
	}
	*e = Event(read.plain)
	e.At = seconds(read.At)
	return nil
}
