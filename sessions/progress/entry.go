package progress

import (
	"time"

	"glidepace/sessions"
)

// Entry is one session of the diary, as far as it matters for the next.
//
// Entries are put in order by day, then Start, Seq and ID; what is not known
// comes before what is. A session entered from paper has a Date and no Start.
// Where a clock gave no date but the session cannot have been earlier than some
// moment, that moment as Start puts it in its place; Date then stays zero.
type Entry struct {
	ID    string        // unique in every diary
	Start time.Time     // zero when not known
	Seq   int64         // order among sessions of the same or no Start, such as counted by a box without a clock
	Date  sessions.Date // local date of the start; zero when not known

	Prescription string // hash of the session file, whatever was changed for this session alone
	Rules        *Rules // of that prescription; nil when not stored: then today's are taken

	// Outcome is as in the diary: "completed", "ended-early", "symptoms" or
	// "interrupted".
	Outcome string
	// Stopped is the worst symptom that stopped the session, whether or not
	// it went on after it. With the outcome "symptoms" None counts as
	// tingling.
	Stopped sessions.Symptom

	Before, After sessions.Ratings
	Felt          sessions.Felt // where it was asked instead of rated

	Settled    time.Duration // how long after the session until it was back as before; 0 when not timed
	NotSettled bool          // asked, and it was not back as before
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
	felt := e.felt()
	switch {
	case e.Stopped != sessions.NoSymptom && e.Stopped != sessions.Breathing, e.Stopped == sessions.NoSymptom && e.Outcome == "symptoms":
		return stopped
	case e.Stopped == sessions.Breathing, e.Outcome != "completed",
		felt == sessions.Stronger, e.NotSettled, e.Settled > settleWithin:
		return uncomfortable
	case felt == sessions.NoStronger:
		return comfortable
	}
	return notRated
}

// felt reads the ratings: one that rose by 2 or more is enough for sessions.Stronger,
// NoStronger takes both, before and after.
func (e Entry) felt() sessions.Felt {
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
