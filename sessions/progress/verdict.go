package progress

import (
	"fmt"
	"slices"
	"strings"

	"glidepace/sessions"
)

// A rise of a rating that matters, and one that counts as a stop. Two points are the
// smallest change that matters on a 0–10 rating of pain: Farrar et al., Pain
// 2001;94:149–158, on improvement of chronic pain over trials, borrowed here for a rise
// and for tingling. The three points are common practice, no source.
const (
	matters  = 2
	MuchMore = 3
)

// verdict is what a session means for the next.
type verdict uint8

const (
	unrated verdict = iota
	comfortable
	uncomfortable
	cutShort // for the breath, or a warning sign of the neck glide
	stopped  // for tingling or pain, or something as serious
)

// rating is tingling or pain, with its ratings in the first sessions.
type rating struct {
	name          string
	first         []int
	before, after *int
}

func (c *climb) ratings(e Entry) []rating {
	return []rating{
		{"tingling", c.first[0], e.Before.Tingling, e.After.Tingling},
		{"pain", c.first[1], e.Before.Pain, e.After.Pain},
	}
}

// rise returns by how much a rating rose; 0 where one of the two is missing.
func (r rating) rise() int {
	if r.before == nil || r.after == nil {
		return 0
	}
	return *r.after - *r.before
}

// above returns by how much the rating after is above the baseline, the median of the
// first ratings, the lower of two; 0 where one of them is missing.
func (r rating) above() int {
	if r.after == nil || len(r.first) == 0 {
		return 0
	}
	return *r.after - slices.Sorted(slices.Values(r.first))[(len(r.first)-1)/2]
}

// judge returns what a session was, and why where it was stopped or uncomfortable.
func (c *climb) judge(e Entry) (verdict, string) {
	if why := c.stopped(e); why != "" {
		return stopped, why
	}
	if e.felt(sessions.Breathing) || e.felt(sessions.WarningSign) {
		return cutShort, ""
	}
	if why := c.uncomfortable(e); why != "" {
		return uncomfortable, why
	}
	if e.Outcome != sessions.Completed {
		return unrated, ""
	}
	if e.Felt == sessions.NoStronger || e.Before.Whole() && e.After.Whole() {
		return comfortable, ""
	}
	return unrated, ""
}

// stopped says why a session counts as stopped; "" where it does not.
func (c *climb) stopped(e Entry) string {
	for _, s := range e.stops() {
		switch {
		case !s.InSet, s.Symptom == sessions.Breathing, s.Symptom == sessions.WarningSign:
		case s.Symptom == sessions.Tingling, s.Symptom == sessions.Pain:
			return string(s.Symptom)
		default:
			return "a stop"
		}
	}
	// A stop outside a set that nobody explained may have been a slip of the hand.
	said := e.felt(sessions.Tingling) || e.felt(sessions.Pain)
	if e.NotInTime && said || e.NotSettled || e.Settled > c.rules.SettleWithin {
		return "symptoms that did not settle in time"
	}
	for _, r := range c.ratings(e) {
		if r.rise() >= MuchMore {
			return fmt.Sprintf("%s that rose by %d", r.name, r.rise())
		}
	}
	return ""
}

// uncomfortable says why a session was uncomfortable; "" where it was not.
func (c *climb) uncomfortable(e Entry) string {
	for _, r := range c.ratings(e) {
		switch {
		case r.rise() >= matters:
			return "more " + r.name + " after it than before"
		case r.above() >= matters:
			return "more " + r.name + " than in the first sessions"
		}
	}
	switch {
	case e.Felt == sessions.Stronger:
		return "stronger after it than before"
	case e.NextMorning == sessions.Worse:
		return "worse until the next morning"
	case len(e.stops()) > 0:
		return "stopped outside a set"
	case e.Outcome != sessions.Completed && e.Repetitions > 0:
		return strings.ReplaceAll(string(e.Outcome), "-", " ")
	}
	return ""
}
