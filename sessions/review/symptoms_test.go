package review

import (
	"testing"

	"glidepace/sessions"
)

// The baseline is the median of the ratings before the first three sessions of the
// prescription, of two the lower.
func TestChange(t *testing.T) {
	for _, c := range []struct {
		name          string
		before        []int // -1: not rated
		changed       []int // from which sessions on the prescription is another
		baseline, now int
		share         float64
		first         int // -1: the present prescription is the first
	}{
		{"down by 2", []int{5, 4, 6, 6, 3, 3, 3}, nil, 5, 3, -0.4, -1},
		{"the last three count", []int{5, 5, 5, 9, 9, 4, 4, 4}, nil, 5, 4, -0.2, -1},
		{"from 0", []int{0, 0, 0, 1}, nil, 0, 1, 0, -1},
		{"not every session is rated", []int{-1, 4, -1, 6, 5, -1, 2}, nil, 5, 2, -0.6, -1},
		{"two after the baseline", []int{4, 4, 4, 3, 1}, nil, 4, 1, -0.75, -1},
		{"another prescription", []int{8, 7, 8, 6, 4, 3, 4, 2}, []int{4}, 4, 2, -0.5, 8},
		{"and one more", []int{8, 8, 2, 2, 4, 4, 4, 3}, []int{2, 4}, 4, 3, -0.25, 8},
	} {
		list := course(nil, "y y y y y y y y")[:len(c.before)]
		for i, n := range c.before {
			if n >= 0 {
				list[i].Before.Pain = &n
			}
			for _, from := range c.changed {
				if i >= from {
					list[i].Prescription += "+"
				}
			}
		}
		r := only(t, list, Options{Today: day(9), Since: day(3)}).Pain
		points, share, ok := r.Change()
		if !ok || *r.Baseline != c.baseline || *r.Now != c.now || points != c.now-c.baseline || !near(share, c.share, 1e-9) ||
			(r.First == nil) != (c.first < 0) || r.First != nil && *r.First != c.first {
			t.Errorf("%s: %+v, %d points, %v", c.name, r, points, share)
		}
	}
	r := only(t, with(course(nil, "y y y"), rated(3, 3), 0, 1, 2), Options{Today: day(4)}).Tingling
	if _, _, ok := r.Change(); ok || *r.Baseline != 3 {
		t.Errorf("a change without later ratings: %+v", r)
	}
}

// A day's value is the mean of its ratings; ten days make a trend.
func TestTrendOfDays(t *testing.T) {
	list := course(nil, "yy y y y y y y y y y")
	for i := range list {
		rated(9-i, 0)(&list[i])
	}
	rated(10, 0)(&list[0])
	rated(8, 0)(&list[1]) // the first day has the mean 9, the others 7 to -1
	c := only(t, list[:10], Options{Today: day(11)})
	if c.AddTrends(); c.Tingling.Before != nil || len(c.Tingling.Days) != 9 || *c.Tingling.Days[0].Before != 9 {
		t.Errorf("nine days: %+v", c.Tingling)
	}
	c = only(t, list, Options{Today: day(11)})
	c.AddTrends()
	b := c.Tingling.Before
	// Ten values that fall from day to day: S = -45, Var = 125 (n = 10, no ties), z = -44/√125.
	if b == nil || b.Days != 10 || !near(b.Slope, -7, 1e-9) || !near(b.P, 8.3e-5, 1e-6) || b.Low > b.Slope || b.High < b.Slope {
		t.Errorf("ten days: %+v", b)
	}
	if a := c.Tingling.After; a == nil || a.Slope != 0 || a.P != 1 {
		t.Errorf("nothing changes: %+v", a)
	}
}

func TestSettling(t *testing.T) {
	c := only(t, with(with(course(nil, "y y y"), settled(40, 0), 0), settled(90, 60), 1), Options{Today: day(4)})
	if s := c.Settling; s.Timed != 3 || s.Median != 60 || s.Slowest != 90 || s.NotSettled != 0 {
		t.Errorf("%+v", s)
	}
	if want := "2 stops, the last outside a set, settled in 65 s at the median, 90 s at most"; c.stopsAndSettling() != want {
		t.Errorf("%q, want %q", c.stopsAndSettling(), want)
	}
}

func TestWhere(t *testing.T) {
	for want, s := range map[string]Stop{
		"at repetition 7":             {InSet: true, Exercise: 1, Set: 1, Rep: 7},
		"before the first repetition": {InSet: true, Exercise: 1, Set: 1},
		"outside a set":               {Exercise: 1, Set: 1},
		"at a place not known":        {InSet: true},
	} {
		if s.Where() != want {
			t.Errorf("%+v: %s, want %s", s, s.Where(), want)
		}
	}
}

func TestAsked(t *testing.T) {
	list := with(course(nil, "y y y y"), func(s *Session) { s.NextMorning, s.Felt = sessions.NotWorse, sessions.NoStronger }, 0, 1, 2)
	with(list, func(s *Session) { s.NextMorning, s.Felt = sessions.Worse, sessions.Stronger }, 1)
	c := only(t, list, Options{Today: day(5)})
	if want := (Ratio{1, 3, 1.0 / 3}); c.Mornings != want || c.Stronger != want {
		t.Errorf("%+v, %+v, want %+v", c.Mornings, c.Stronger, want)
	}
}

// How it went with each way to match breath and movement, if several were tried.
func TestMatches(t *testing.T) {
	list := with(course(nil, "y y y s"), rated(2, 3), 0, 1)
	if c := only(t, list, Options{Today: day(5)}); c.Matches != nil {
		t.Errorf("one way: %+v", c.Matches)
	}
	other := func(s *Session) { s.Match = "breath-per-rep" }
	m := only(t, with(with(list, other, 2, 3), rated(2, 1), 2), Options{Today: day(5)}).Matches
	if len(m) != 2 || m[0].Sessions != 2 || m[0].Completed != 2 || m[0].WithStop != 0 || *m[0].TinglingRise != 1 || m[0].PainRise != nil ||
		m[1].Match != "breath-per-rep" || m[1].Completed != 1 || m[1].WithStop != 1 || *m[1].TinglingRise != -1 {
		t.Errorf("%+v", m)
	}
}

func TestPace(t *testing.T) {
	list := with(course(nil, "y y y y"), level(10, 1), 0, 1)
	with(list, func(s *Session) { s.RateEnd, s.Level = 6.4, &Level{8, 10, 0.8} }, 2, 3)
	list[1].Stops = []Stop{{Rate: 6}}
	c := only(t, list, Options{Today: day(5)})
	if want := (Pace{Prescribed: 8, First: 8, Last: 6.4, Slowest: 6, EasedBegun: 2, EasedWithin: 1}); c.Pace != want || *c.Level != (Level{8, 10, 0.8}) {
		t.Errorf("%+v, %+v", c.Pace, c.Level)
	}
}

// Of a rating that only one half of is known, that half is told and counted.
func TestHalfRated(t *testing.T) {
	after := func(n int) func(*Session) { return func(s *Session) { s.After.Tingling = &n } }
	before := func(n int) func(*Session) { return func(s *Session) { s.Before.Tingling = &n } }
	for _, c := range []struct {
		list                  []Session
		onlyBefore, onlyAfter int
		want                  string // the first line of the report on tingling
	}{
		{course(nil, "y"), 0, 0, "not rated"},
		{with(course(nil, "y"), after(6), 0), 0, 1, "6 after; before not rated"},
		{with(with(course(nil, "y y y"), after(6), 0), after(4), 2), 0, 2, "4 after the latest of 2 sessions; before not rated"},
		{with(course(nil, "y"), before(3), 0), 1, 0, "baseline 3; no later ratings to compare with it"},
		{with(with(course(nil, "y y y"), rated(3, 3), 0), after(5), 1), 0, 1, "baseline 3; no later ratings to compare with it"},
	} {
		course := only(t, c.list, Options{Today: day(4)})
		r, line := course.Tingling, course.SymptomReport().Lines[0]
		if r.OnlyBefore != c.onlyBefore || r.OnlyAfter != c.onlyAfter || line != (Line{"tingling", c.want}) {
			t.Errorf("%+v, %q; want %q", r, line, c.want)
		}
	}
	week := only(t, with(with(course(nil, "y y y"), rated(3, 3), 0), after(5), 1), Options{Today: day(4)}).Weeks[0]
	if *week.TinglingBefore != 3 || *week.TinglingAfter != 4 { // (3 + 5) / 2
		t.Errorf("%v before, %v after", *week.TinglingBefore, *week.TinglingAfter)
	}
}
