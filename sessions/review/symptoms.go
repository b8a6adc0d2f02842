package review

import (
	"slices"

	"glidepace/sessions"
)

// pair is a rating before and after a session; nil if not rated.
type pair struct{ before, after *int }

// ratings returns tingling and pain.
func (s *Session) ratings() [2]pair {
	return [2]pair{{s.Before.Tingling, s.After.Tingling}, {s.Before.Pain, s.After.Pain}}
}

func appendRating(to []float64, n *int) []float64 {
	if n == nil {
		return to
	}
	return append(to, float64(*n))
}

// inBaseline is how many of the first sessions with a rating make the baseline.
const inBaseline = 3

// addSymptoms follows the ratings and how long symptoms took to settle. The baselines are
// those of all sessions, whatever the first day that counts.
func (c *Course) addSymptoms(all []*Session) {
	c.Tingling, c.Pain = Rating{Name: "tingling"}, Rating{Name: "pain"}
	var times []float64
	for _, s := range c.Sessions {
		for _, stop := range s.Stops {
			if stop.Settled > 0 {
				times = append(times, stop.Settled)
			}
		}
		if s.Settled > 0 {
			times = append(times, s.Settled)
		}
		if s.NotSettled || s.NotInTime {
			c.Settling.NotSettled++
		}
		c.Mornings.count(s.NextMorning == sessions.Worse, s.NextMorning != "")
		c.Stronger.count(s.Felt == sessions.Stronger, s.Felt != "")
	}
	c.Mornings.finish()
	c.Stronger.finish()
	if c.Settling.Timed = len(times); len(times) > 0 {
		slices.Sort(times)
		c.Settling.Median, c.Settling.Slowest = median(times), times[len(times)-1]
	}
	for i, r := range []*Rating{&c.Tingling, &c.Pain} {
		r.since(all, i)
		r.addDays(c.Sessions, i)
		r.addHalves(c.Sessions, i)
	}
}

// addHalves counts the sessions of which only one of the two ratings is known.
func (r *Rating) addHalves(list []*Session, which int) {
	for _, s := range list {
		p := s.ratings()[which]
		if p.after != nil {
			r.LastAfter = p.after
		}
		switch {
		case p.before == nil && p.after != nil:
			r.OnlyAfter++
		case p.before != nil && p.after == nil:
			r.OnlyBefore++
		}
	}
}

// rises finds where a rating was up from before a session to after it: by how much at
// most, in which session (of several the latest), and in how many by as much as matters.
func (c *Course) rises(which int) (by int, worst *Session, sessions int) {
	for _, s := range c.Sessions {
		p := s.ratings()[which]
		if p.before == nil || p.after == nil || *p.after-*p.before < MattersPoints {
			continue
		}
		sessions++
		if rise := *p.after - *p.before; rise >= by {
			by, worst = rise, s
		}
	}
	return by, worst, sessions
}

// since sets the baseline of the present prescription and the ratings since, of all
// sessions.
func (r *Rating) since(all []*Session, which int) {
	var rated []int // of one prescription
	prescriptions, prescription := 0, ""
	for _, s := range all {
		if s.Outcome == "" {
			continue
		}
		if prescriptions == 0 || s.Prescription != prescription {
			if prescriptions == 1 {
				r.First = lowerMedian(rated[:min(inBaseline, len(rated))])
			}
			rated, prescription = nil, s.Prescription
			prescriptions++
		}
		if before := s.ratings()[which].before; before != nil {
			rated = append(rated, *before)
		}
	}
	r.Sessions = len(rated)
	first := min(inBaseline, len(rated))
	r.Baseline = lowerMedian(rated[:first])
	r.Now = lowerMedian(rated[max(first, len(rated)-inBaseline):])
}

// addDays adds the mean ratings of the days that have some.
func (r *Rating) addDays(list []*Session, which int) {
	r.Days = []RatingOfDay{}
	var day sessions.Date
	var before, after []float64
	finish := func() {
		if len(before)+len(after) > 0 {
			r.Days = append(r.Days, RatingOfDay{day, mean(before), mean(after)})
		}
		before, after = nil, nil
	}
	for _, s := range list {
		if s.Date.IsZero() {
			continue
		}
		if s.Date != day {
			finish()
			day = s.Date
		}
		p := s.ratings()[which]
		before, after = appendRating(before, p.before), appendRating(after, p.after)
	}
	finish()
}

// minTrend is how many days with a rating a trend needs: the normal approximation of
// Mann–Kendall is not for fewer. Common practice, no source.
const minTrend = 10

// maxTrend is how many days make a trend, the last ones: the work grows with the square
// of their number.
const maxTrend = 366

// AddTrends works out the trends of the ratings, for a course that somebody looks at.
func (c *Course) AddTrends() {
	for _, r := range []*Rating{&c.Tingling, &c.Pain} {
		r.Before = r.trend(func(d RatingOfDay) *float64 { return d.Before })
		r.After = r.trend(func(d RatingOfDay) *float64 { return d.After })
	}
}

// trend returns the trend of some ratings; nil if too few days have them.
func (r *Rating) trend(of func(RatingOfDay) *float64) *Trend {
	var days, values []float64
	for _, d := range r.Days {
		if v := of(d); v != nil {
			days, values = append(days, float64(d.Date.DaysSince(r.Days[0].Date))), append(values, *v)
		}
	}
	n := len(values)
	if n < minTrend {
		return nil
	}
	days, values = days[max(0, n-maxTrend):], values[max(0, n-maxTrend):]
	k := mannKendall(values)
	slope, low, high := theilSen(days, values, k.Var)
	return &Trend{Days: len(values), Slope: 7 * slope, Low: 7 * low, High: 7 * high, P: k.P}
}
