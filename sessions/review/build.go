package review

import (
	"cmp"
	"slices"

	"glidepace/pacer"
	"glidepace/sessions"
)

// newCourse adds up the sessions of one patient, which are in order and each once.
func newCourse(all []*Session, o Options) Course {
	latest := all[len(all)-1]
	c := Course{Patient: latest.Patient, Title: latest.Title, To: o.Until, Why: o.Why,
		StandsOut: []Pointer{}, Sources: []SourceCount{}, Weeks: []Week{}, Days: []Day{}, Stops: []StopAt{}}
	doses := dosesOf(all, o)
	c.began = firstDay(all, doses)
	if !c.began.IsZero() {
		c.From = later(c.began, o.Since)
	}
	for _, s := range all {
		if s.Unread != "" {
			c.Unread = append(c.Unread, s.Unread)
		}
		if !s.Date.IsZero() && s.Outcome != "" && (s.done() || s.Outcome == sessions.Symptoms) {
			c.Last = s.Date
		}
		if s.Date.IsZero() || s.Date.DaysSince(c.From) >= 0 {
			c.count(s)
		}
		if s.Level != nil {
			c.Level, c.latest = s.Level, s
		}
	}
	slices.Reverse(c.Notes)
	c.runs = c.stillAsks(doses)
	c.addDays(doses, o.Today)
	c.addWeeks()
	c.addSymptoms(all)
	c.addMatches()
	c.addPace(o.File)
	c.addStandsOut()
	return c
}

// done reports whether something of the session was done.
func (s *Session) done() bool { return s.Done > 0 }

// completed reports whether the session was done to its end.
func (s *Session) completed() bool { return s.Outcome == sessions.Completed && s.done() }

// restful reports whether the plan after the session was to rest until tomorrow.
func (s *Session) restful() bool { return s.Outcome == sessions.Symptoms || s.NotSettled }

// firstDay returns the day on which the first dose began or, if that is earlier or the dose
// is not known, the first session was; zero if no day is known.
func firstDay(all []*Session, doses []inForce) (first sessions.Date) {
	for _, s := range all {
		if !s.Date.IsZero() && s.Outcome != "" {
			first = s.Date
			break
		}
	}
	if len(doses) > 0 && (first.IsZero() || first.DaysSince(doses[0].from) > 0) {
		first = doses[0].from
	}
	return first
}

// count counts a session, and keeps it if it counts.
func (c *Course) count(s *Session) {
	for _, text := range s.Notes {
		c.Notes = append(c.Notes, Note{s.Date, text})
	}
	if !c.Counts.add(s) {
		return
	}
	c.Sessions = append(c.Sessions, s)
	for _, stop := range s.Stops {
		c.Stops = append(c.Stops, StopAt{Session: s.ID, Date: s.Date, Stop: stop})
	}
	if n := len(c.Stops); s.Outcome == sessions.Symptoms && len(s.Stops) > 0 {
		c.Stops[n-1].Ended = true
	} else if s.Outcome == sessions.Symptoms {
		c.Stops = append(c.Stops, StopAt{s.ID, s.Date, true, Stop{Symptom: cmp.Or(s.EndedBy, sessions.NotSaid), InSet: true}})
	}
	i, there := slices.BinarySearchFunc(c.Sources, s.Source, func(a SourceCount, b Source) int { return cmp.Compare(a.Source, b) })
	if !there {
		c.Sources = slices.Insert(c.Sources, i, SourceCount{Source: s.Source})
	}
	c.Sources[i].Sessions++
	if s.completed() {
		c.Sources[i].Completed++
	}
}

// add counts a session, and reports whether it counts.
func (n *Counts) add(s *Session) bool {
	switch {
	case s.Outcome == "":
		n.Running++
		return false
	case s.Outcome == sessions.Symptoms:
		n.Stopped++
	case !s.done():
		n.Left++
		return false
	case s.Outcome == sessions.Completed:
		n.Completed++
	case s.Outcome == sessions.EndedEarly:
		n.EndedEarly++
	default:
		n.Interrupted++
	}
	if s.Extra {
		n.Extra++
	}
	switch {
	case s.WrongDay:
		n.WrongDay++
	case s.Date.IsZero():
		n.NoDate++
	}
	return true
}

// addMatches compares the ways to match breath and movement, if several were tried.
func (c *Course) addMatches() {
	rises := make(map[string][2][]float64)
	for _, s := range c.Sessions {
		i := slices.IndexFunc(c.Matches, func(m MatchUse) bool { return m.Match == s.Match })
		if i < 0 {
			i = len(c.Matches)
			c.Matches = append(c.Matches, MatchUse{Match: s.Match})
		}
		m := &c.Matches[i]
		m.Sessions++
		if s.completed() {
			m.Completed++
		}
		if len(s.Stops) > 0 || s.Outcome == sessions.Symptoms {
			m.WithStop++
		}
		r := rises[s.Match]
		for k, pair := range s.ratings() {
			if pair.before != nil && pair.after != nil {
				r[k] = append(r[k], float64(*pair.after-*pair.before))
			}
		}
		rises[s.Match] = r
	}
	if len(c.Matches) < 2 {
		c.Matches = nil
	}
	for i := range c.Matches {
		r := rises[c.Matches[i].Match]
		c.Matches[i].TinglingRise, c.Matches[i].PainRise = mean(r[0]), mean(r[1])
	}
}

// addPace follows the rate of the breath. Without the session file the prescribed rate is
// that of the latest session of the same prescription that was done at it.
func (c *Course) addPace(file *sessions.Session) {
	p := &c.Pace
	if file != nil {
		if t, err := pacer.New(file); err == nil {
			_, p.Prescribed = t.Rates()
		}
	}
	slowest := func(rate float64) {
		if rate > 0 && (p.Slowest == 0 || rate < p.Slowest) {
			p.Slowest = rate
		}
	}
	for _, s := range c.Sessions {
		if p.First == 0 {
			p.First = s.RateEnd
		}
		if s.RateEnd > 0 {
			p.Last = s.RateEnd
		}
		if s.Level != nil && s.Level.Rate < 1 {
			p.EasedBegun++
		}
		if file == nil && s.Level != nil && s.Level.Rate == 1 && s.Prescription == c.Sessions[len(c.Sessions)-1].Prescription {
			p.Prescribed = s.RateEnd
		}
		slowest(s.RateEnd)
		for _, stop := range s.Stops {
			slowest(stop.Rate)
			if stop.Rate > 0 {
				p.EasedWithin++
			}
		}
	}
}
