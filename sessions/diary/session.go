package diary

import (
	"encoding/json"
	"fmt"
	"strings"
	"time"

	"glidepace/sessions"
	"glidepace/sessions/plaintext"
)

// Sources of sessions. A diary may have others.
const (
	Paced     = "paced" // by this program
	OnBox     = "box"   // by this program on a box; older boxes wrote Paced
	OnPage    = "page"  // by this program on a web page
	FromPaper = "paper" // ticked on paper, or done with a sound file
)

// Amount is how much of a session: planned, or done so far.
type Amount struct {
	Sets        int `json:"sets"`
	Repetitions int `json:"repetitions"`
	Breaths     int `json:"breaths"` // inhales
}

// Session is one session in the diary.
type Session struct {
	ID           string           `json:"id"`
	Title        string           `json:"title"`
	Patient      string           `json:"patient"`          // the clinic's code; "" if there is none
	Prescription string           `json:"prescription"`     // hash of what was prescribed
	Date         string           `json:"date"`             // local date of the start, 2006-01-02, set by the diary; "" if not known
	Started      time.Time        `json:"started,omitzero"` // with the local offset, kept to the millisecond and the minute; zero if not known, as from paper or with a Boot
	Ended        time.Time        `json:"ended,omitzero"`   // with the offset of the start; zero while it runs, or if the start is not known
	Length       time.Duration    `json:"length_s"`         // so far or in all, by the monotonic clock, pauses included
	Planned      Amount           `json:"planned"`
	Done         Amount           `json:"done"`
	RateStart    float64          `json:"rate_start_per_min"` // breaths per minute where the plan begins
	RateEnd      float64          `json:"rate_end_per_min"`   // and where it ends
	Match        string           `json:"match"`              // how breath and movement are matched
	Sound        string           `json:"sound"`              // the way out that was used, such as "pulse" or "off"
	Outcome      sessions.Outcome `json:"outcome"`
	Source       string           `json:"source"` // how it was done and came here: Paced if not given, FromPaper, or another
	Extra        bool             `json:"extra"`  // beyond the dose, knowingly

	// What its events tell of it. Plan, Boot, Before and Cleared may be given
	// when a session begins.

	Plan     string           `json:"plan,omitempty"` // what today's session was, in the caller's JSON; "" if not known
	Boot     *Boot            `json:"boot,omitempty"` // nil if the clock was right
	Before   sessions.Ratings `json:"before,omitzero"`
	After    sessions.Ratings `json:"after,omitzero"`
	Settling *Settling        `json:"settling,omitempty"` // nil if it was not timed
	Felt     sessions.Felt    `json:"felt,omitempty"`     // "" if nobody said
	Notes    []Note           `json:"notes,omitempty"`

	// Number says which of its day's sessions it was, if it is from paper. With a
	// Boot it counts such sessions of the diary from 1, and the diary sets it. Else
	// it is 0.
	Number int `json:"number,omitempty"`

	// Diary is the id of the diary that recorded the session, and Place counts
	// what that diary recorded, from 1; the diary sets both. They are "" and 0 in
	// format 1 and from paper, which may be entered into any diary.
	Diary string `json:"diary,omitempty"`
	Place int64  `json:"place,omitempty"`

	// More that its events tell of it.

	Stops       []Stop               `json:"stop_list,omitempty"`    // for symptoms, in order; without those that were none
	EndedBy     sessions.Symptom     `json:"ended_by,omitempty"`     // what ended it with the outcome Symptoms; NotSaid if nobody said
	NotInTime   bool                 `json:"not_in_time,omitempty"`  // it ended because symptoms had not settled in time, or nobody said whether they had
	Cleared     bool                 `json:"cleared,omitempty"`      // somebody said at its start that the clinician has cleared the neck glide
	NextMorning sessions.NextMorning `json:"next_morning,omitempty"` // "" if nobody said
	WrongDay    bool                 `json:"wrong_day,omitempty"`    // somebody said later that the clock was ahead

	Unread []string `json:"unread,omitempty"` // what of it cannot be read, and is taken as not known: "extra: 2; allowed is 0 to 1"

	Events []Event `json:"events,omitempty"` // in order; nil if only the session was asked for

	// What other diaries say of the session that were merged, and what is not counted. Only
	// [Diary.Show] sets these.
	OtherVersions []Session `json:"other_versions,omitempty"`
	OtherEvents   []Event   `json:"other_events,omitempty"` // said after the session
}

// Ending is how a session ended.
type Ending struct {
	When    time.Time        // by the clock on the wall; ignored if the start is not known
	At      time.Duration    // since the session's start, monotonic: its length
	Outcome sessions.Outcome // not ""
	Done    Amount
}

// MarshalJSON writes the length in seconds, and adds the number of stops and the
// symptom that weighs most.
func (s Session) MarshalJSON() ([]byte, error) {
	type plain Session
	return json.Marshal(struct {
		plain
		Count   int              `json:"stops"`
		Symptom sessions.Symptom `json:"symptom"`
		Length  float64          `json:"length_s"`
		Events  []Event          `json:"events,omitempty"`
	}{plain(s), len(s.Stops), s.Symptom(), s.Length.Seconds(), s.Events})
}

// atLeast returns the larger of each total, so that an event that carries none
// takes nothing back.
func (a Amount) atLeast(b Amount) Amount {
	return Amount{max(a.Sets, b.Sets), max(a.Repetitions, b.Repetitions), max(a.Breaths, b.Breaths)}
}

// When returns the day and the time of the start, as far as they are known:
// "2026-12-01 08:30", "2026-12-01", or "".
func (s Session) When() string {
	if s.Started.IsZero() {
		return s.Date
	}
	return s.Started.Format("2006-01-02 15:04")
}

// String returns the session in lines to read or to write down by hand, with its
// events except for the repetitions.
func (s Session) String() string {
	var b strings.Builder
	line := func(known bool, name, format string, args ...any) {
		if known {
			fmt.Fprintf(&b, "%-12s %s\n", name, plaintext.Line(fmt.Sprintf(format, args...)))
		}
	}
	timed := s.Source != FromPaper // on paper nobody measures
	rates, end := fmt.Sprintf("%.3g", s.RateStart), fmt.Sprintf("%.3g", s.RateEnd)
	if end != rates {
		rates += " to " + end
	}
	line(true, "session", "%s", s.ID)
	line(true, "title", "%s", s.Title)
	line(s.Patient != "", "patient", "%s", s.Patient)
	line(true, "started", "%s", s.startWords())
	line(s.Source != "" && s.Source != Paced, "source", "%s", s.Source)
	line(timed, "length", "%s", clock(s.Length))
	line(true, "repetitions", "%d of %d", s.Done.Repetitions, s.Planned.Repetitions)
	line(timed, "breaths", "%d of %d", s.Done.Breaths, s.Planned.Breaths)
	line(timed, "sets", "%d of %d", s.Done.Sets, s.Planned.Sets)
	line(true, "rate", "%s breaths a minute", rates)
	line(true, "movement", "%s", movementWords(s.Match))
	line(timed, "sound", "%s", s.Sound)
	for _, stop := range s.Stops {
		where := "outside a set"
		if stop.InSet {
			where = "in a set"
		}
		line(true, "stopped", "%s%s", where, forWords(stop.Symptom))
	}
	line(true, "outcome", "%s", s.OutcomeWords())
	line(s.Extra, "extra", "beyond the dose")
	line(!s.Before.IsZero(), "before", "%s", s.Before.InWords())
	line(!s.After.IsZero(), "after", "%s", s.After.InWords())
	line(s.Felt != "", "after", "symptoms %s than before", s.Felt)
	if s.Settling != nil {
		line(true, "settled", "%s", s.Settling.words())
	}
	line(s.NextMorning != "", "after", "%s until the next morning", s.NextMorning)
	line(s.Cleared, "neck", "said to be cleared by the clinician")
	for _, text := range s.Unread {
		line(true, "not read", "%s", text)
	}
	for _, e := range s.Events {
		line(e.Kind != Repetition, "", "%s", e.line(timed))
	}
	for _, e := range s.OtherEvents {
		line(true, "not counted", "%s", e.line(timed))
	}
	for i, other := range s.OtherVersions {
		fmt.Fprintf(&b, "\nAnother version of this session, %d of %d, which is not counted:\n%s", i+1, len(s.OtherVersions), other.String())
	}
	return b.String()
}

// clock writes a length in minutes and seconds.
func clock(d time.Duration) string {
	s := int(d.Round(time.Second).Seconds())
	return fmt.Sprintf("%d:%02d", s/60, s%60)
}

// movementWords says how breath and movement were matched.
func movementWords(match string) string {
	switch match {
	case sessions.ExhaleOnGlide.String():
		return "exhale through the glide, one breath a repetition"
	case sessions.BreathPerRep.String():
		return "a movement on each half of the breath, one breath for two repetitions"
	}
	return match
}

// Warning says what of the session cannot be read; "" if all of it can.
func (s Session) Warning() string {
	if len(s.Unread) == 0 {
		return ""
	}
	return plaintext.Line(fmt.Sprintf("session %s cannot be read in full: %s", s.ID, strings.Join(s.Unread, "; ")))
}

// startWords says when the session started, as far as is known.
func (s Session) startWords() string {
	text := "date not known"
	switch {
	case !s.Started.IsZero():
		text = s.Started.Format("2006-01-02 15:04 -07:00")
	case s.Date != "":
		text = s.Date + ", time not known"
	case s.Boot != nil:
		text += ", " + s.Boot.words()
	}
	if s.WrongDay {
		text += " by a clock that was wrong"
	}
	return text
}

// OutcomeWords says how the session ended and what it was stopped for, as a
// person would: "stopped for pain".
func (s Session) OutcomeWords() string {
	words := map[sessions.Outcome]string{"": "not ended", sessions.Completed: "completed",
		sessions.EndedEarly: "ended early", sessions.Interrupted: "interrupted"}[s.Outcome]
	switch {
	case s.Outcome == sessions.Symptoms && s.NotInTime && s.EndedBy == sessions.NotSaid:
		words = "stopped, not settled in time"
	case s.Outcome == sessions.Symptoms && s.NotInTime:
		words = "stopped" + forWords(s.EndedBy) + ", not settled in time"
	case s.Outcome == sessions.Symptoms:
		words = "stopped" + forWords(s.EndedBy)
	case words == "":
		words = string(s.Outcome) // of a later version
	}
	if s.Outcome != sessions.Symptoms && len(s.Stops) > 0 {
		words += ", with a stop" + forWords(s.Symptom())
	}
	return words
}

// forWords says what a stop was for: " for pain".
func forWords(s sessions.Symptom) string {
	switch s {
	case sessions.NoSymptom:
		return ""
	case sessions.NotSaid:
		return ", reason not said"
	case sessions.Breathing:
		return " for the breath"
	case sessions.WarningSign:
		return " for a warning sign"
	}
	return " for " + string(s)
}

// line returns an event in one line, with its time if the session has times.
func (e Event) line(timed bool) string {
	text := string(e.Kind)
	said, _ := detail[morning](e)
	if note, _ := detail[Note](e); !note.Written.IsZero() {
		said.Said = note.Written
	}
	if later := e.Kind == Noted || e.Kind == Morning; later && !said.Said.IsZero() {
		text = said.Said.Format("2006-01-02 15:04 ") + text
	} else if timed {
		text = clock(e.At) + " " + text
	}
	if e.Rep > 0 {
		text += strings.TrimRight(fmt.Sprintf("  exercise %d, set %d, repetition %d, %s", e.Exercise, e.Set, e.Rep, e.Side), ", ")
	}
	if words := e.words(); words != "" {
		text += "  " + words
	}
	return text
}
