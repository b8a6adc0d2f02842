package progress_test

import (
	"slices"
	"testing"
	"time"

	"glidepace/sessions/progress"
)

func TestOrder(t *testing.T) {
	for _, c := range []answer{
		// The clock was a month slow during the session that pain stopped: it
		// stands where it was recorded. 5 + 1 − 2, and what it eased stays.
		{"31,33,35 same 5 pain", 36, "work", 4, 0.8, 0, "4 of 10 repetitions today and 9.6 breaths a minute instead of 12, after pain: three comfortable sessions in a row, the last on 2027-01-07 or later, and it is 12 breaths a minute."},
		{"31,33,35 same 5 pain 36,36,37 same", 38, "work", 4, 0.8, 3, "after pain: one"},
		{"31,33,35 same 5 pain 36,36,37,38 same", 39, "work", 4, 1, 0, "after pain: three"},
		// A clock that was fast: what comes after it has no day until it is past.
		{"1,2 same 40 same 3,4,5 same", 6, "work", 6, 1, 3, "up from 5: one … on 2027-01-11 or later, and it is 7."},
		// Rows that do not tell who recorded them: by their dates.
		{"in - 31,33,35 same 5 pain", 36, "work", 3, 1, 0, "after pain on 2026-12-05"},

		// Without a day: where it was recorded.
		{"1,2 same ? tingled 3 same", 4, "work", 3, 0.8, 1, "after tingling: two"},
		{"in box ? same in home 1,2 same in box ?,? tingled", 4, "work", 1, 0.64, 2, "after tingling: one"}, // not known when: first,
		{"in box ? same 1? tingled in home 1,2 same", 4, "work", 3, 0.8, 2, "after tingling"},

		// Two diaries: by their dates, each with its own clock.
		{"1,5 same in away 3 tingled", 6, "work", 3, 0.8, 1, "after tingling on 2026-12-03"},
		{"1 same in away 9 same 3 tingled in home 5,7 same", 10, "work", 4, 0.8, 0, "after tingling:"},

		// On paper: the day that the person gave, whenever it was entered. What
		// is paced after that on an earlier day had a wrong clock.
		{"1,8 same 3p tingled", 9, "work", 3, 0.8, 1, "after tingling on 2026-12-03"},
		{"1,8 same 3p unrated 15 same", 16, "work", 6, 1, 0, "up from 5"},
		{"1 same 9p same 3 tingled", 10, "work", 3, 0.8, 0, "after tingling:"},
	} {
		c.check(t)
	}
}

// Of one day they stand by their start, then their number; what the same diary
// recorded, as it did.
func TestOrderOfADay(t *testing.T) {
	s := prescriptions["work"]
	entry := func(hour int, id, kind string, change func(e *progress.Entry)) progress.Entry {
		e := happened[kind]
		e.ID, e.Prescription, e.Date = id, s.Hash(), date(1)
		if hour > 0 {
			e.Start = time.Date(2026, 12, 1, 2*hour, 0, 0, 0, time.FixedZone("", 3600*hour))
		}
		change(&e)
		return e
	}
	plain := func(*progress.Entry) {}
	number := func(n int) func(*progress.Entry) { return func(e *progress.Entry) { e.Number = n } }
	seq := func(n int64) func(*progress.Entry) {
		return func(e *progress.Entry) { e.Diary, e.Seq, e.Paced = "home", n, true }
	}
	// Tingling last: 3 and 0.8, run 0. Anywhere else the run is not 0.
	for name, list := range map[string][]progress.Entry{
		"start":  {entry(1, "c", "same", plain), entry(2, "b", "same", plain), entry(3, "a", "tingled", plain)},
		"number": {entry(0, "c", "same", number(1)), entry(0, "b", "same", number(2)), entry(0, "a", "tingled", number(3))},
		"id":     {entry(0, "a", "same", plain), entry(0, "b", "same", plain), entry(0, "c", "tingled", plain)},
		"none":   {entry(0, "c", "same", plain), entry(0, "d", "same", plain), entry(1, "a", "tingled", plain)},
		"clock":  {entry(3, "c", "same", seq(1)), entry(2, "b", "same", seq(2)), entry(1, "a", "tingled", seq(3))},
	} {
		for _, from := range [][]int{{0, 1, 2}, {2, 1, 0}, {2, 0, 1}, {1, 2, 0}} {
			given := []progress.Entry{list[from[0]], list[from[1]], list[from[2]]}
			before := slices.Clone(given)
			a := progress.Today(s, given, date(1))
			if a.Run != 0 || a.Level.Reps != 3 || !says(a.Why, "on 2026-12-01") {
				t.Errorf("%s, given as %v: %+v, want R 3 and run 0", name, from, a)
			}
			for i := range given {
				if given[i].ID != before[i].ID {
					t.Errorf("%s: the list that was given is changed", name)
				}
			}
		}
	}
}
