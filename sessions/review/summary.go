package review

import (
	"fmt"
	"math"
)

// Summary is the report in a few lines, without statistics.
func (c *Course) Summary() (p Part) {
	if a := c.Adherence; a != nil && a.Sessions.Of > 0 {
		p.add("sessions", "%s; of the repetitions %s", c.Amount(), a.Repetitions)
	} else if len(c.Sessions) > 0 {
		p.add("sessions", "%s; %s", c.Amount(), c.repetitions())
	} else {
		p.add("sessions", "%s", c.Amount())
	}
	p.add("also", "%s", c.Counts.apart())
	how := c.sources()
	if c.Pace.Last > 0 {
		how += fmt.Sprintf("; %.3g breaths a minute", c.Pace.Last)
	}
	p.add("how", "%s", how)
	for _, r := range []*Rating{&c.Tingling, &c.Pain} {
		if r.Baseline == nil {
			p.add(r.Name, "%s", r.onlyAfter())
		} else {
			p.add(r.Name+" before", "%s", r.summary())
		}
	}
	if n := len(c.Stops); n > 0 {
		p.add("last stop", "%s", c.stop(c.Stops[n-1], false))
	}
	p.add("level", "%s", c.level())
	p.add("today", "%s", c.Why)
	return p
}

// summary says how a rating before sessions changed, in plain words.
func (r *Rating) summary() string {
	text := fmt.Sprintf("%d at first", *r.Baseline)
	if r.Now != nil {
		text += fmt.Sprintf(", %d now", *r.Now)
	}
	if r.LastAfter == nil {
		text += "; after not rated"
	}
	if r.Before != nil {
		text += "; " + r.Before.words()
	}
	return text
}

// clearTrend is the p of Mann and Kendall below which a trend is called one. Common
// practice.
const clearTrend = 0.05

// words says what the trend is: "falls by about 0.1 a day, over 14 days".
func (t *Trend) words() string {
	if t.P >= clearTrend || t.Slope == 0 {
		return "no clear trend"
	}
	text := "falls"
	if t.Slope > 0 {
		text = "rises"
	}
	if by := math.Abs(t.Slope) / 7; by < 0.05 {
		text += " by less than 0.1 a day"
	} else {
		text += fmt.Sprintf(" by about %.1f a day", by)
	}
	return fmt.Sprintf("%s, over %d days", text, t.Days)
}
