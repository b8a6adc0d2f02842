package diary

import (
	"cmp"
	"encoding/json"
	"fmt"
	"strings"
	"time"
)

// Outcome says how a session ended; "" while it runs.
type Outcome string

const (
	Completed   Outcome = "completed"
	EndedEarly  Outcome = "ended-early"
	Symptoms    Outcome = "symptoms"
	Interrupted Outcome = "interrupted" // cut off, with nobody to say why
)

// Kind says what an event is. There may be other kinds than these.
type Kind string

const (
	Started    Kind = "started"
	Repetition Kind = "repetition" // one is done
	Paused     Kind = "paused"
	Resumed    Kind = "resumed"
	Enough     Kind = "enough" // for this set
	Ended      Kind = "ended"
)

// Amount is how much of a session: planned, or done so far.
type Amount struct {
	Sets        int `json:"sets"`
	Repetitions int `json:"repetitions"`
	Breaths     int `json:"breaths"` // inhales
}

// Session is one session in the diary.
type Session struct {
	ID           string    `json:"id"`
	Title        string    `json:"title"`
	Patient      string    `json:"patient"`          // the clinic's code; "" when there is none
	Prescription string    `json:"prescription"`     // hash of what was prescribed
	Date         string    `json:"date"`             // local date of the start, 2006-01-02; "" when not known. Set by the diary
	Started      time.Time `json:"started,omitzero"` // with the local offset, kept to the millisecond and the minute; zero when not known
	Ended        time.Time `json:"ended,omitzero"`   // with the offset of the start; zero while it runs or when not known

	// Length is the time since the start by the monotonic clock, pauses
	// included: so far, or in all.
	Length time.Duration `json:"length_s"`

	Planned   Amount  `json:"planned"`
	Done      Amount  `json:"done"`
	RateStart float64 `json:"rate_start_per_min"` // breaths per minute where the plan begins
	RateEnd   float64 `json:"rate_end_per_min"`   // and where it ends
	Match     string  `json:"match"`              // how breath and movement are matched
	Sound     string  `json:"sound"`              // the way out that was used, such as "pulse" or "off"
	Outcome   Outcome `json:"outcome"`
	Reason    string  `json:"reason"` // why it ended, in words
	Source    string  `json:"source"` // how it was done and came here; "paced" when not given
	Extra     bool    `json:"extra"`  // beyond the dose, knowingly

	// Events, in order; nil where only the session was asked for.
	Events []Event `json:"events,omitempty"`
}

// Event is one thing that happened in a session.
type Event struct {
	At       time.Duration `json:"at_s"` // since the session's start, monotonic, pauses included
	Kind     Kind          `json:"kind"`
	Exercise int           `json:"exercise"` // from 1; 0 where there is none, as with Set and Rep
	Side     string        `json:"side"`
	Set      int           `json:"set"`
	Rep      int           `json:"rep"`
	Done     Amount        `json:"done"` // the session's totals by then; may be left zero where nothing was added
	Detail   string        `json:"detail"`
}

// Ending is how a session ended.
type Ending struct {
	When    time.Time     // by the clock on the wall
	At      time.Duration // since the session's start, monotonic: its length
	Outcome Outcome       // not ""
	Reason  string
	Done    Amount
}

// MarshalJSON writes the length in seconds.
func (s Session) MarshalJSON() ([]byte, error) {
	type plain Session
	return json.Marshal(struct {
		plain
		Length float64 `json:"length_s"`
		Events []Event `json:"events,omitempty"`
	}{plain(s), s.Length.Seconds(), s.Events})
}

// MarshalJSON writes the time of the event in seconds.
func (e Event) MarshalJSON() ([]byte, error) {
	type plain Event
	return json.Marshal(struct {
		At float64 `json:"at_s"`
		plain
	}{e.At.Seconds(), plain(e)})
}

// atLeast returns the larger of each total, so that an event that carries none
// takes nothing back.
func (a Amount) atLeast(b Amount) Amount {
	return Amount{max(a.Sets, b.Sets), max(a.Repetitions, b.Repetitions), max(a.Breaths, b.Breaths)}
}

// String is the session in plain lines, to be read or to be written down by
// hand. Of its events it names all but the single repetitions.
func (s Session) String() string {
	var b strings.Builder
	line := func(name, format string, args ...any) {
		fmt.Fprintf(&b, "%-12s %s\n", name, fmt.Sprintf(format, args...))
	}
	line("session", "%s", s.ID)
	line("title", "%s", s.Title)
	if s.Patient != "" {
		line("patient", "%s", s.Patient)
	}
	if s.Started.IsZero() {
		line("started", "date not known")
	} else {
		line("started", "%s", s.Started.Format("2006-01-02 15:04 -07:00"))
	}
	line("length", "%v", s.Length.Round(time.Second))
	line("repetitions", "%d of %d", s.Done.Repetitions, s.Planned.Repetitions)
	line("breaths", "%d of %d", s.Done.Breaths, s.Planned.Breaths)
	line("sets", "%d of %d", s.Done.Sets, s.Planned.Sets)
	line("rate", "%.3g to %.3g breaths a minute", s.RateStart, s.RateEnd)
	line("match", "%s", s.Match)
	line("sound", "%s", s.Sound)
	outcome := cmp.Or(string(s.Outcome), "not ended")
	if s.Reason != "" {
		outcome += ": " + s.Reason
	}
	line("outcome", "%s", outcome)
	if s.Extra {
		line("extra", "beyond the dose")
	}
	for _, e := range s.Events {
		if e.Kind == Repetition {
			continue
		}
		where := ""
		if e.Rep > 0 {
			where = strings.TrimRight(fmt.Sprintf("  exercise %d, set %d, repetition %d, %s", e.Exercise, e.Set, e.Rep, e.Side), ", ")
		}
		if e.Detail != "" {
			where += "  " + e.Detail
		}
		at := int(e.At.Seconds())
		line("", "%d:%02d %s%s", at/60, at%60, e.Kind, where)
	}
	return b.String()
}
