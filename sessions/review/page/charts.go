package page

import (
	"fmt"
	"math"
	"slices"
	"strconv"

	"glidepace/sessions"
	"glidepace/sessions/review"
)

// namedWeeks is how many weeks have their figures under the chart.
const namedWeeks = 7

// adherence draws the sessions of each week, completed of prescribed.
func adherence(weeks []review.Week) *chart {
	c := &chart{first: -0.5, last: float64(len(weeks)) - 0.5, most: 1}
	for _, percent := range []int{0, 50, 100} {
		c.height(float64(percent)/100, fmt.Sprintf("%d %%", percent))
	}
	every := (len(weeks) + namedWeeks - 1) / namedWeeks
	for i, w := range weeks {
		at := float64(i)
		if i%every == 0 {
			c.under(at, w.From.Format("2 Jan"))
		}
		if w.Sessions.Of == 0 {
			continue
		}
		if every == 1 {
			c.text(c.x(at), bottomEdge+29, "middle", fmt.Sprintf("%d/%d", w.Sessions.Done, w.Sessions.Of))
		}
		c.bar(at, 0.6, w.Sessions.Share, w.Sessions.Share < review.Satisfactory)
		c.interval(at, w.Sessions.Low, w.Sessions.High)
	}
	c.height(review.Satisfactory, "80 %")
	c.limit(review.Satisfactory)
	return c
}

// timeline is a chart over the days of a course or, if no day is known, over its
// sessions in their order.
type timeline struct {
	chart
	from   sessions.Date
	number map[string]int // of each session, from 1; nil if days are known
}

// over prepares a chart, with at most seven days or sessions named.
func over(o *review.Course, most float64) *timeline {
	t := &timeline{chart: chart{most: most}, from: o.From}
	name := func(day int) string { return o.From.AddDays(day).Format("2 Jan") }
	first, last := 0, max(1, o.To.DaysSince(o.From))
	if o.From.IsZero() {
		t.number = make(map[string]int)
		for i, s := range o.Sessions {
			t.number[s.ID] = i + 1
		}
		first, last, name = 1, max(2, len(o.Sessions)), strconv.Itoa
	}
	t.first, t.last = float64(first)-0.5, float64(last)+0.5
	every := 1 + last/7
	if every > 3 {
		every = 7 * (1 + last/49)
	}
	for i := first; i <= last; i += every {
		t.under(float64(i), name(i))
	}
	return t
}

// markOn draws a shape for a session on its day, unless that is not known.
func (t *timeline) markOn(s shape, id string, day sessions.Date, v float64) {
	switch {
	case t.number != nil:
		t.mark(s, float64(t.number[id]), v)
	case !day.IsZero():
		t.mark(s, float64(day.DaysSince(t.from)), v)
	}
}

// aboveRatings is where stops are in a chart of ratings.
const aboveRatings = 11

// ratings draws each rating before and after as it was, since a mean would hide the worst.
// The trend is that of the days' means before; the stops are above.
func ratings(o *review.Course, r *review.Rating, of func(sessions.Ratings) *int) *chart {
	c := over(o, aboveRatings+0.5)
	for v := 0; v <= 10; v += 2 {
		c.height(float64(v), strconv.Itoa(v))
	}
	c.legend(ring, "before")
	c.legend(diamond, "after")
	c.legend(cross, "stop")
	for _, s := range o.Sessions {
		if n := of(s.After); n != nil {
			c.markOn(diamond, s.ID, s.Date, float64(*n))
		}
		if n := of(s.Before); n != nil {
			c.markOn(ring, s.ID, s.Date, float64(*n))
		}
	}
	if r.Before != nil {
		var at, means []float64
		for _, d := range r.Days {
			if d.Before != nil {
				at, means = append(at, float64(d.Date.DaysSince(o.From))), append(means, *d.Before)
			}
		}
		c.trend(at, means, r.Before.Slope/7)
	}
	for _, stop := range o.Stops {
		c.markOn(cross, stop.Session, stop.Date, aboveRatings)
	}
	if r.Baseline != nil {
		c.limit(float64(*r.Baseline))
		c.legend(dashes, "baseline")
	}
	return &c.chart
}

// trend draws the line of a slope through the medians, as far as the scale goes: USEPA
// Unified Guidance, EPA 530/R-09-007, 2009, chapter 17.
func (c *chart) trend(at, values []float64, slope float64) {
	middle, centre := median(at), median(values)
	end := func(day float64) [2]float64 {
		v := min(10, max(0, centre+slope*(day-middle)))
		if slope != 0 {
			day = middle + (v-centre)/slope
		}
		return [2]float64{day, v}
	}
	c.line(end(at[0]), end(at[len(at)-1]))
	c.legend(stroke, "trend before")
}

func median(values []float64) float64 {
	sorted := slices.Sorted(slices.Values(values))
	n := len(sorted)
	return (sorted[(n-1)/2] + sorted[n/2]) / 2
}

// settling draws how long symptoms took to settle, in minutes, after the stops and
// after the sessions. Above them are those that had not settled, or were not timed.
func settling(o *review.Course) *chart {
	most := max(3, math.Ceil(o.Settling.Slowest/60))
	above := most * 1.12
	c := over(o, most*1.2)
	for v := 0.0; v <= most; v += math.Ceil(most / 6) {
		c.height(v, fmt.Sprintf("%.0f min", v))
	}
	c.legend(cross, "after a stop")
	c.legend(ring, "after a session")
	c.legend(dashes, "2 minutes")
	c.text(leftEdge-5, c.y(above)+4, "end", "none")
	for _, stop := range o.Stops {
		at := above
		if stop.Settled > 0 {
			at = stop.Settled / 60
		}
		c.markOn(cross, stop.Session, stop.Date, at)
	}
	for _, s := range o.Sessions {
		switch {
		case s.Settled > 0:
			c.markOn(ring, s.ID, s.Date, s.Settled/60)
		case s.NotSettled:
			c.markOn(ring, s.ID, s.Date, above)
		}
	}
	c.limit(2)
	return &c.chart
}

// level draws how many repetitions each session had, against the goal. A session at
// a slower breath than prescribed has a ring.
func level(o *review.Course) *chart {
	goal, most := 0, 1
	for _, s := range o.Sessions {
		if s.Level != nil {
			most = max(most, s.Level.Reps, s.Level.Goal)
			goal = s.Level.Goal
		}
	}
	c := over(o, float64(most)+1)
	for v := 0; v <= most; v += 1 + most/6 {
		c.height(float64(v), strconv.Itoa(v))
	}
	c.legend(diamond, "as prescribed")
	c.legend(ring, "slower breath")
	for _, s := range o.Sessions {
		if s.Level == nil {
			continue
		}
		shape := diamond
		if s.Level.Rate < 1 {
			shape = ring
		}
		c.markOn(shape, s.ID, s.Date, float64(s.Level.Reps))
	}
	if goal > 0 {
		c.limit(float64(goal))
		c.legend(dashes, "goal")
	}
	return &c.chart
}
