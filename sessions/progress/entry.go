package progress

import (
	"cmp"
	"slices"
	"strings"
	"time"

	"glidepace/sessions"
)

// Entry is what matters of one session of the diary.
type Entry struct {
	ID    string        // unique in every diary
	Start time.Time     // zero when not known; without a Date the earliest that it can have been
	Date  sessions.Date // local date of the start; zero when not known

	// Number counts the sessions of a day that were entered from paper, and those that
	// had no clock; else 0.
	Number int

	Diary string // the diary that recorded it; "" where not known
	Seq   int64  // its place among what that diary recorded, from 1; 0 where not known
	Paced bool   // by this program, whose clock gave the date; else entered from paper

	Prescription string // hash of the session file, whatever was changed for this session alone
	Rules        *Rules // of that prescription; nil for today's, where they are not stored
	Neck         bool   // it had a neck glide
	Cleared      bool   // the clinician had cleared the neck glide, somebody said when it began

	Repetitions int // that were done
	// OtherFile: it was done with another session file of the same person. Only its
	// warning signs count.
	OtherFile bool
	Outcome   sessions.Outcome
	Stops     []Stop           // in order, without those that were only a pause
	EndedBy   sessions.Symptom // with the outcome symptoms: what ended it
	NotInTime bool             // it ended because symptoms had not settled in time, or nobody said whether they had

	Before, After sessions.Ratings
	Felt          sessions.Felt // where it was asked instead of rated
	Settled       time.Duration // how long it took after the session to be back as before; 0 when not timed
	NotSettled    bool          // it was not back as before when asked
	NextMorning   sessions.NextMorning

	day sessions.Date // the Date where it is believed; set by ordered
}

// Stop is one stop for symptoms.
type Stop struct {
	Symptom sessions.Symptom // NotSaid where nobody said
	InSet   bool             // while a set ran
}

// stops returns the stops. Where symptoms ended the session, the last has what ended it;
// if the diary has no stop there is one, as if in a set.
func (e Entry) stops() []Stop {
	if e.Outcome != sessions.Symptoms {
		return e.Stops
	}
	list := slices.Clone(e.Stops)
	if len(list) == 0 {
		list = []Stop{{sessions.NotSaid, true}}
	}
	if e.EndedBy != sessions.NoSymptom && e.EndedBy != sessions.NotSaid {
		list[len(list)-1].Symptom = e.EndedBy
	}
	return list
}

// felt reports whether the session was stopped for a symptom.
func (e Entry) felt(s sessions.Symptom) bool {
	return slices.ContainsFunc(e.stops(), func(stop Stop) bool { return stop.Symptom == s })
}

// ordered returns the entries from the first session to the last, each once: by day,
// then by start. One that was paced comes after all that the same diary recorded before
// it; if its date is earlier than theirs, its clock was wrong and it counts as one
// without a day. One without a day stays where it was recorded, but not before its Start;
// if neither is known it comes first.
func ordered(entries []Entry) []Entry {
	type placed struct {
		Entry
		date   sessions.Date
		start  time.Time
		number int
	}
	byPlace := func(a, b placed) int {
		return cmp.Or(a.date.DaysSince(b.date), a.start.Compare(b.start), cmp.Compare(a.number, b.number))
	}
	byDiary := func(a, b placed) int {
		return cmp.Or(strings.Compare(a.Diary, b.Diary), cmp.Compare(a.Seq, b.Seq), strings.Compare(a.ID, b.ID))
	}
	list := make([]placed, len(entries))
	for i, e := range entries {
		e.day = e.Date
		list[i] = placed{e, e.Date, e.Start, e.Number}
		if e.Date.IsZero() && !e.Start.IsZero() {
			list[i].date = sessions.DateOf(e.Start)
		}
	}
	slices.SortFunc(list, byDiary)
	list = slices.CompactFunc(list, func(a, b placed) bool { return a.ID == b.ID })
	var before placed // the latest of those that the same diary recorded before
	for i := range list {
		e := &list[i]
		if e.Diary != before.Diary {
			before = *e
		}
		if e.Diary != "" && e.Seq > 0 && e.Paced && byPlace(*e, before) < 0 {
			if e.date.DaysSince(before.date) < 0 {
				e.day = sessions.Date{}
			}
			e.date, e.start, e.number = before.date, before.start, before.number
		}
		if byPlace(*e, before) > 0 {
			before = *e
		}
	}
	slices.SortFunc(list, func(a, b placed) int { return cmp.Or(byPlace(a, b), byDiary(a, b)) })
	sorted := make([]Entry, len(list))
	for i, e := range list {
		sorted[i] = e.Entry
	}
	return sorted
}
