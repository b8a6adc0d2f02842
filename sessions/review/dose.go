package review

import (
	"slices"

	"glidepace/sessions"
	"glidepace/sessions/history"
)

// inForce is a dose with the days on which it is in force.
type inForce struct {
	history.Dose
	from sessions.Date
	last sessions.Date // of the course; zero if it does not end
}

// dosesOf returns the doses of a course, one after the other. A dose is in force from the
// first session begun under it, or from its start, if that is between this session and
// the one before. The session file's dose holds for sessions that have none, and from its
// start if that is later than all of them.
func dosesOf(all []*Session, o Options) (list []inForce) {
	var ofFile *history.Dose
	if o.File != nil {
		ofFile = history.DoseOf(o.File)
	}
	var before sessions.Date // the session before
	begin := func(d *history.Dose, from sessions.Date) {
		if n := len(list); n > 0 && list[n-1].Dose == *d {
			return
		}
		starts := !d.Start.IsZero()
		if starts && (before.IsZero() || d.Start.DaysSince(before) > 0) {
			from = d.Start
		}
		f := inForce{Dose: *d, from: from}
		if d.Days > 0 {
			f.last = from.AddDays(d.Days - 1)
			if starts {
				f.last = d.Start.AddDays(d.Days - 1)
			}
		}
		list = append(list, f)
	}
	for _, s := range all {
		if s.Date.IsZero() || s.Outcome == "" {
			continue
		}
		if d := s.Dose; d != nil {
			begin(d, s.Date)
		} else if ofFile != nil && len(list) == 0 {
			begin(ofFile, s.Date)
		}
		before = s.Date
	}
	if ofFile != nil && !before.IsZero() && ofFile.Start.DaysSince(before) > 0 {
		begin(ofFile, ofFile.Start)
	}
	return list
}

// on returns the dose in force on a day; nil if it is not known.
func on(list []inForce, d sessions.Date) *inForce {
	for i := range slices.Backward(list) {
		if d.DaysSince(list[i].from) >= 0 {
			return &list[i]
		}
	}
	return nil
}

// over reports whether no dose asks for anything from a day on.
func over(list []inForce, d sessions.Date) bool {
	if len(list) == 0 {
		return true
	}
	f := list[len(list)-1]
	return d.DaysSince(f.from) >= 0 && !f.last.IsZero() && d.DaysSince(f.last) > 0
}

// asks returns how many sessions a day asks for at least and at most: none outside the
// course.
func (f *inForce) asks(d sessions.Date) (least, most int) {
	if d.DaysSince(f.from) < 0 || !f.last.IsZero() && d.DaysSince(f.last) > 0 {
		return 0, 0
	}
	return f.PerDayMin, f.PerDayMax
}
