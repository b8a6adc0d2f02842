package review

import (
	"cmp"

	"glidepace/sessions"
)

// addDays works out what each day asked for and what was done of it, and how much of the
// dose that makes.
func (c *Course) addDays(doses []inForce, today sessions.Date) {
	if c.From.IsZero() {
		return
	}
	a := &Adherence{From: c.From}
	a.Parts = [4]DayShare{{Name: "night", Until: 5}, {Name: "morning", Until: 12}, {Name: "afternoon", Until: 17}, {Name: "evening", Until: 24}}
	if len(doses) > 0 {
		c.Adherence = a
		if doses[0].from.DaysSince(a.From) > 0 {
			a.From = doses[0].from
		}
	}
	left, planned := c.dated(), 0 // planned are the repetitions of a session, on the latest day with one
	for _, s := range left {
		planned = cmp.Or(planned, s.Planned)
	}
	for date := c.From; date.DaysSince(c.To) <= 0; date = date.AddDays(1) {
		if len(left) == 0 && over(doses, date) {
			break // of a course years ago, most days are left
		}
		n := 0
		for n < len(left) && left[n].Date == date {
			n++
		}
		done := dayDone{Day: Day{Date: date}, sessions: left[:n], planned: &planned}
		left = left[n:]
		done.add(on(doses, date), date == today)
		if done.Sessions.Of == 0 && n == 0 {
			continue
		}
		c.Days = append(c.Days, done.Day)
		c.Counts.Extra += done.over
		a.add(&done)
	}
	a.Sessions.finish()
	a.Repetitions.finish()
	a.Satisfactory = a.Sessions.Of > 0 && a.Sessions.Share >= Satisfactory
	for i := range a.Weekdays {
		a.Weekdays[i].finish()
	}
	for i := range a.Parts {
		a.Parts[i].finish()
	}
}

// dayDone is a day as it is added up.
type dayDone struct {
	Day
	sessions []*Session
	planned  *int // repetitions of a session, on the latest day with one
	over     int  // completed beyond the dose, without saying so
	whole    bool // it is over, and the plan was not to rest on it
}

// regular returns whether a session can be one of those that its day asks for.
func (s *Session) regular() bool { return !s.Extra && s.done() && s.Outcome != sessions.Symptoms }

// add adds up the sessions of the day under the dose in force, nil if it is not known.
func (d *dayDone) add(dose *inForce, today bool) {
	d.whole = !today
	completed, asked, repetitions := 0, 0, 0
	for _, s := range d.sessions {
		d.Counts.add(s)
		d.whole = d.whole && !s.restful()
		if s.regular() {
			asked = max(asked, s.Planned)
			repetitions += s.Done
			if s.completed() {
				completed++
			}
		}
	}
	*d.planned = cmp.Or(asked, *d.planned)
	if dose == nil {
		return
	}
	least, most := dose.asks(d.Date)
	d.over = max(0, completed-most)
	d.Counts.Extra += d.over
	if !d.whole {
		least = min(least, completed)
	}
	d.Day.Sessions = Ratio{Done: min(least, completed), Of: least}
	d.Repetitions.Of = least * *d.planned
	d.Repetitions.Done = min(repetitions, d.Repetitions.Of)
	d.Day.Sessions.finish()
	d.Repetitions.finish()
}

// add adds a day to the adherence.
func (a *Adherence) add(d *dayDone) {
	a.Sessions.add(d.Day.Sessions)
	a.Repetitions.add(d.Repetitions)
	a.Weekdays[(d.Date.Weekday()+6)%7].add(d.Day.Sessions)
	if !d.whole || d.Day.Sessions.Of == 0 {
		return
	}
	var done [len(a.Parts)]int
	for _, s := range d.sessions {
		if !s.regular() || !s.completed() {
			continue
		}
		if s.Start.IsZero() {
			return // nobody knows in which part of the day
		}
		for i := range a.Parts {
			if s.Start.Hour() < a.Parts[i].Until {
				done[i] = 1
				break
			}
		}
	}
	for i := range a.Parts {
		a.Parts[i].add(Ratio{Done: done[i], Of: 1})
	}
}

func (r *Ratio) add(more Ratio) { r.Done, r.Of = r.Done+more.Done, r.Of+more.Of }

// count counts something that was done or not, if that is known.
func (r *Ratio) count(done, known bool) {
	if known {
		r.Of++
	}
	if done {
		r.Done++
	}
}

func (r *Ratio) finish() {
	if r.Of > 0 {
		r.Share = float64(r.Done) / float64(r.Of)
	}
}

func (s *Share) finish() {
	s.Ratio.finish()
	s.Low, s.High = wilson(s.Done, s.Of)
}

// addWeeks adds up the days of each week, and its ratings.
func (c *Course) addWeeks() {
	for _, d := range c.Days {
		year, week := d.Date.ISOWeek()
		if n := len(c.Weeks); n == 0 || c.Weeks[n-1].Week != week || c.Weeks[n-1].Year != year {
			monday := d.Date.AddDays(-(int(d.Date.Weekday()) + 6) % 7)
			c.Weeks = append(c.Weeks, Week{Year: year, Week: week, From: later(monday, c.From), To: earlier(monday.AddDays(6), c.To)})
		}
		w := &c.Weeks[len(c.Weeks)-1]
		w.Sessions.add(d.Sessions)
		w.Repetitions.add(d.Repetitions)
		w.Counts.sum(d.Counts)
	}
	list, stops := c.dated(), c.datedStops()
	for i := range c.Weeks {
		w := &c.Weeks[i]
		w.Sessions.finish()
		w.Repetitions.finish()
		var rated [2]struct{ before, after []float64 }
		for ; len(list) > 0 && list[0].Date.DaysSince(w.To) <= 0; list = list[1:] {
			for k, r := range list[0].ratings() {
				rated[k].before = appendRating(rated[k].before, r.before)
				rated[k].after = appendRating(rated[k].after, r.after)
			}
		}
		for ; len(stops) > 0 && stops[0].Date.DaysSince(w.To) <= 0; stops = stops[1:] {
			w.Stops++
		}
		w.TinglingBefore, w.TinglingAfter = mean(rated[0].before), mean(rated[0].after)
		w.PainBefore, w.PainAfter = mean(rated[1].before), mean(rated[1].after)
	}
}

// dated returns the sessions that have a date.
func (c *Course) dated() (list []*Session) {
	for _, s := range c.Sessions {
		if !s.Date.IsZero() {
			list = append(list, s)
		}
	}
	return list
}

// datedStops returns the stops that have a date.
func (c *Course) datedStops() (list []StopAt) {
	for _, s := range c.Stops {
		if !s.Date.IsZero() {
			list = append(list, s)
		}
	}
	return list
}

func (n *Counts) sum(more Counts) {
	n.Completed += more.Completed
	n.EndedEarly += more.EndedEarly
	n.Interrupted += more.Interrupted
	n.Stopped += more.Stopped
	n.Extra += more.Extra
}

func later(a, b sessions.Date) sessions.Date {
	if a.DaysSince(b) > 0 {
		return a
	}
	return b
}

func earlier(a, b sessions.Date) sessions.Date {
	if a.DaysSince(b) < 0 {
		return a
	}
	return b
}
