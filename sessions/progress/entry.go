package progress

import (
	"slices"
	"time"

	"glidepace/sessions"
)

// Entry is one session of the diary, as far as it matters for the next.
//
// Entries are put in order by day, then Start, Number, Seq and ID; what is not
// known comes before what is. A session entered from paper has a Date and no
// Start. Where a clock gave no date but the session cannot have been earlier
// than some moment, that moment as Start puts it in its place; Date then stays
// zero.
type Entry struct {
	ID    string        // unique in every diary
	Start time.Time     // zero when not known
	Date  sessions.Date // local date of the start; zero when not known

	// Number is, from paper, which of its day's sessions it was; without a
	// clock, which such session; else 0.
	Number int

	Diary string // the diary that recorded it; "" where not known
	Seq   int64  // its place among what that diary recorded, from 1; 0 where not known
	Paced bool   // by this program, whose clock gave the date; else entered from paper

	Prescription string // hash of the session file, whatever was changed for this session alone
	Rules        *Rules // of that prescription; nil when not stored: then today's are taken
	Neck         bool   // it held a neck glide
	Cleared      bool   // when it began somebody said that the clinician had cleared the neck glide

	Repetitions int // that were done
	Outcome     sessions.Outcome
	Stops       []Stop           // those that were not taken back as only a pause, in order
	EndedBy     sessions.Symptom // with the outcome symptoms: what ended it
	NotInTime   bool             // it ended since symptoms had not settled in time, or nobody said whether they had

	Before, After sessions.Ratings
	Felt          sessions.Felt // where it was asked instead of rated
	Settled       time.Duration // how long after the session until it was back as before; 0 when not timed
	NotSettled    bool          // asked, and it was not back as before
	NextMorning   sessions.NextMorning
}

// Stop is one stop for symptoms.
type Stop struct {
	Symptom sessions.Symptom // NotSaid where nobody said
	InSet   bool             // while a set ran
}

// felt reports whether the session was stopped or ended for a symptom.
func (e Entry) felt(s sessions.Symptom) bool {
	return e.EndedBy == s || slices.ContainsFunc(e.Stops, func(stop Stop) bool { return stop.Symptom == s })
}

// day returns the day that an entry is put in order by.
func (e Entry) day() sessions.Date {
	if e.Date.IsZero() && !e.Start.IsZero() {
		return sessions.DateOf(e.Start)
	}
	return e.Date
}

// verdict is what a session means for the next.
type verdict uint8

const (
	notRated verdict = iota
	comfortable
	uncomfortable
	stopped // for tingling or pain
)

func (e Entry) verdict(settleWithin time.Duration) verdict {
	felt := e.compared()
	switch {
	case e.felt(sessions.Tingling), e.felt(sessions.Pain), e.felt(sessions.NotSaid):
		return stopped
	case e.felt(sessions.Breathing), e.felt(sessions.WarningSign), e.Outcome != sessions.Completed,
		felt == sessions.Stronger, e.NotSettled, e.Settled > settleWithin:
		return uncomfortable
	case felt == sessions.NoStronger:
		return comfortable
	}
	return notRated
}

// compared reads the ratings: one that rose by 2 or more is enough for
// sessions.Stronger, NoStronger takes both, before and after.
func (e Entry) compared() sessions.Felt {
	rated, rise := 0, 0
	for _, r := range []struct{ before, after *int }{
		{e.Before.Tingling, e.After.Tingling}, {e.Before.Pain, e.After.Pain},
	} {
		if r.before != nil && r.after != nil {
			rated++
			rise = max(rise, *r.after-*r.before)
		}
	}
	switch {
	case rise >= 2: // the smallest change that matters: Farrar et al., Pain 2001;94:149–158
		return sessions.Stronger
	case e.Felt == "" && rated == 2:
		return sessions.NoStronger
	}
	return e.Felt
}
