// Package review says what the sessions of one or many diaries add up to: how much of
// what was prescribed was done, how it felt, where the pace stands, and what stands out
// for the clinician. It is arithmetic: it reads no clock and no file, and the order of
// the sessions and of the diaries makes no difference.
//
// # Which sessions
//
// Sessions with the same patient code belong to one course; without a code, those with
// the same title. The same session in several diaries counts once: the copy that has
// more. One that still runs is not counted. One without a date is part of no day and no
// week; its stops are listed all the same. So is one whose clock was wrong: somebody said
// so, or it is later than today, or it was paced with an earlier date than its diary had
// recorded before.
//
// # Adherence
//
// A day asks for the lower end of the dose that is in force on it, and is done by as many
// completed sessions, up to that number: a day makes up for no other. A dose is in force
// from the first session that was begun under it, or from its start if that lies between
// that session and the one before; without a start the course begins with its first
// session. A session beyond the dose, knowingly or over the upper end, is an extra and
// counts apart. One that ended for symptoms is neither done nor missed: like today, which
// is not over, its day asks only for what was done on it, since the plan after such an
// end is to rest until tomorrow. So does a day on which symptoms had not settled after a
// session. A session without a repetition is only counted as left. One that ended early
// or was interrupted is not done, but its repetitions count among the repetitions.
//
// If neither the sessions nor the session file say what the dose is, adherence is not
// known.
package review

import (
	"iter"
	"maps"
	"runtime"
	"slices"
	"strings"
	"sync"
	"time"

	"glidepace/sessions"
	"glidepace/sessions/history"
)

// Session is what a review needs of one session of a diary.
type Session struct {
	ID           string // unique in every diary
	Diary        string // id of the diary that recorded it; "" if not known
	Place        int64  // among what that diary recorded, from 1; 0 if not known
	Number       int    // which of its day's sessions, or of those without a clock; else 0
	Patient      string // the clinic's code; "" if there is none
	Title        string
	Prescription string        // hash of the session file
	Date         sessions.Date // local date of the start; zero if not known or wrong
	Start        time.Time     // of the start, with the local offset; zero if not known
	WrongDay     bool          // somebody said that its day was wrong
	Source       Source
	Extra        bool // beyond the dose, knowingly
	Outcome      sessions.Outcome
	Done         int     // repetitions
	Planned      int     // repetitions that this session asked for
	RateEnd      float64 // breaths a minute where the plan of the session ends, after a taper
	Match        string  // how breath and movement went together

	Stops       []Stop           // for symptoms, in order
	EndedBy     sessions.Symptom // with the outcome symptoms: what ended it
	NotInTime   bool             // it ended because symptoms had not settled in time
	Before      sessions.Ratings // 0 to 10
	After       sessions.Ratings
	Felt        sessions.Felt        // instead of ratings; "" if not asked
	Settled     float64              // seconds after the session until symptoms were back to where they were; 0 if not timed
	NotSettled  bool                 // they were not when asked
	NextMorning sessions.NextMorning // "" if nobody said
	Cleared     bool                 // somebody said at its start that the clinician has cleared the neck glide
	Notes       []string             // in the order in which they were written

	Level *Level        // at which it was done; nil if not known
	Dose  *history.Dose // of its session file; nil if not known

	Unread string // what of it cannot be read, as a sentence; "" if nothing
}

// Source is how a session was done.
type Source string

const (
	Live  Source = "live"  // paced by the program on a computer
	Box   Source = "box"   // paced by a loaned box
	Page  Source = "page"  // paced by a web page
	Paper Source = "paper" // ticked on paper, or done with a sound file
)

// Stop is a stop for symptoms.
type Stop struct {
	Symptom  sessions.Symptom `json:"symptom"` // "not said" if nobody said
	InSet    bool             `json:"in_set"`
	Exercise int              `json:"exercise,omitempty"` // from 1, like Set and Rep; 0 if not known or outside
	Side     string           `json:"side,omitempty"`
	Set      int              `json:"set,omitempty"`
	Rep      int              `json:"repetition,omitempty"`       // during which it was
	Settled  float64          `json:"settled_after_s,omitempty"`  // seconds until symptoms were back to where they were; 0 if they were not, or it was not timed
	Rate     float64          `json:"eased_to_per_min,omitempty"` // breaths a minute with which the session went on; 0 if it did not
}

// Level is how much of the prescription a session had.
type Level struct {
	Reps int     `json:"repetitions"`      // that the largest exercise has
	Goal int     `json:"goal_repetitions"` // that it has in the prescription; 0 if not known
	Rate float64 `json:"rate_factor"`      // on the rate of the prescribed breath, above 0 and up to 1
}

// Whole reports whether the level is the whole prescription.
func (l *Level) Whole() bool { return l != nil && l.Goal > 0 && l.Reps >= l.Goal && l.Rate == 1 }

// Options say what to review.
type Options struct {
	Today   sessions.Date     // the local day; it asks only for what was done on it
	Since   sessions.Date     // the first day that counts; zero for the first of each course. Sessions without a day count in any case
	Until   sessions.Date     // the last day that counts; zero for today
	Patient string            // only this patient code, in capitals or not; "" for all
	File    *sessions.Session // the session file: only the sessions that belong to it; nil for all
	Why     string            // why today's session is as it is, by the rules of File; "" if not known
}

// belongs reports whether a session is one of those to review.
func (o Options) belongs(s *Session) bool {
	if s.Date.DaysSince(o.Until) > 0 {
		return false
	}
	if f := o.File; f != nil && (f.Patient != s.Patient || f.Patient == "" && f.Title != s.Title) {
		return false
	}
	return o.Patient == "" || strings.EqualFold(o.Patient, s.Patient)
}

// key says which sessions are of one course.
type key struct{ patient, title string }

func (s *Session) key() key {
	if s.Patient != "" {
		return key{patient: s.Patient}
	}
	return key{title: s.Title}
}

// Courses reviews the sessions of one or more diaries, in any order: a course for each
// patient, those that need attention first. Among all patients, one without a session and
// without a day that asked for one is left out.
func Courses(list iter.Seq2[Session, error], o Options) ([]Course, error) {
	if o.Until.IsZero() || o.Until.DaysSince(o.Today) > 0 {
		o.Until = o.Today
	}
	patients := make(map[key][]*Session)
	for s, err := range list {
		if err != nil {
			return nil, err
		}
		if s.Date.DaysSince(o.Today) > 0 { // its clock was ahead, or today's is behind
			s.Date, s.Start, s.WrongDay = sessions.Date{}, time.Time{}, true
		}
		if o.belongs(&s) {
			patients[s.key()] = append(patients[s.key()], &s)
		}
	}
	lists := slices.Collect(maps.Values(patients))
	courses := make([]Course, len(lists))
	var adding sync.WaitGroup
	processors := runtime.GOMAXPROCS(0)
	for first := range processors {
		adding.Go(func() {
			for i := first; i < len(lists); i += processors {
				courses[i] = newCourse(ordered(lists[i]), o)
			}
		})
	}
	adding.Wait()
	if o.Patient == "" && o.File == nil {
		courses = slices.DeleteFunc(courses, func(c Course) bool {
			return c.Counts == Counts{} && (c.Adherence == nil || c.Adherence.Sessions.Of == 0)
		})
	}
	slices.SortFunc(courses, byAttention)
	return courses, nil
}
