package progress_test

import (
	"encoding/json"
	"math"
	"strings"
	"testing"

	"glidepace/sessions"
	"glidepace/sessions/progress"
)

// answer is what a diary is to make of a day.
type answer struct {
	diary string
	today int    // day of December 2026; 0 when not known
	name  string // today's prescription
	reps  int
	rate  float64
	run   int
	why   string // words that the reason has, with … for what may be between
}

func (c answer) check(t *testing.T) {
	t.Helper()
	today := sessions.Date{}
	if c.today > 0 {
		today = date(c.today)
	}
	a := progress.Today(prescriptions[c.name], diary(c.diary), today)
	exact := c.rate != 1 || a.Level.Rate == 1
	if a.Level.Reps != c.reps || math.Abs(a.Level.Rate-c.rate) > 1e-12 || !exact || a.Run != c.run {
		t.Errorf("%q, %s on day %d: R %d, f %v, run %d; want %d, %v, %d (%s)",
			c.diary, c.name, c.today, a.Level.Reps, a.Level.Rate, a.Run, c.reps, c.rate, c.run, a.Why)
	}
	if !says(a.Why, c.why) {
		t.Errorf("%q, %s on day %d: %q does not say %q", c.diary, c.name, c.today, a.Why, c.why)
	}
}

// says reports whether text has the words, in order where … stands between.
func says(text, words string) bool {
	for part := range strings.SplitSeq(words, " … ") {
		_, rest, found := strings.Cut(text, part)
		if !found {
			return false
		}
		text = rest
	}
	return true
}

func TestToday(t *testing.T) {
	for _, c := range []answer{
		// Where it begins: at reps_from, or at G without progress. Two days from
		// the first session, which is today's, are the 3rd.
		{"", 1, "work", 5, 1, 0, "5 of 10 repetitions today, to begin with: three comfortable sessions in a row, the last on 2026-12-03 or later, and it is 6."},
		{"", 1, "plain", 10, 1, 0, "10 of 10 repetitions today, as prescribed."},
		{"", 0, "single", 1, 1, 0, "1 of 1 repetition today, as prescribed."},

		// Comfortable sessions: 3 of them are 1 more, the run starts again.
		{"1 same", 2, "work", 5, 1, 1, "to begin with: two more comfortable sessions, the last on 2026-12-03 or later, and it is 6."},
		{"1,2 same", 3, "work", 5, 1, 2, "to begin with: one more comfortable session and it is 6."},
		{"1..3 same", 4, "work", 6, 1, 0, "6 of 10 repetitions today, up from 5: three comfortable sessions in a row, the last on 2026-12-05 or later, and it is 7."},
		// 15 sessions are 5 steps, from 5 to 10; a 16th to 18th add nothing, but
		// the run goes on, and starts again.
		{"1..15 same", 16, "work", 10, 1, 0, "10 of 10 repetitions today, as prescribed."},
		{"1..16 same", 17, "work", 10, 1, 1, "as prescribed."},
		{"1..18 same", 19, "work", 10, 1, 0, "as prescribed."},

		// No step sooner than 2 days after the last change. The run waits at 3.
		{"1,1,2 same", 2, "work", 5, 1, 3, "to begin with: one more comfortable session, on 2026-12-03 or later, and it is 6."},
		{"1,1,2,2 same", 3, "work", 5, 1, 3, "one more comfortable session and it is 6."},
		{"1,1,2,2,3 same", 3, "work", 6, 1, 0, "up from 5: three … the last on 2026-12-05 or later, and it is 7."},
		{"1,1,2,2 same 3 up2", 4, "work", 5, 1, 0, "three comfortable sessions in a row and it is 6."},
		// Three a day: 6 with the first of the 3rd, 7 with the first of the 5th.
		{"1,1,1,2,2,2,3,3,3,4,4,4 same", 5, "work", 6, 1, 3, "one more comfortable session and it is 7."},
		{"1,1,1,2,2,2,3,3,3,4,4,4,5,5,5 same", 6, "work", 7, 1, 2, "one more comfortable session, on 2026-12-07 or later, and it is 8."},
		// 3, 3 + 4 = 7, 7 + 4 = 11 but never above 10.
		{"use quick 1,2 same", 3, "quick", 3, 1, 1, "one more comfortable session and it is 7."},
		{"use quick 1,2,3 same", 4, "quick", 7, 1, 0, "up from 3: one comfortable session, on 2026-12-05 or later, and it is 10."},
		{"use quick 1,3,5 same", 6, "quick", 10, 1, 0, "as prescribed."},
		{"use quick 1,3,5,6 same", 7, "quick", 10, 1, 0, "as prescribed."},
		// As many days as the file says.
		{"use now 1,1,1 same", 1, "now", 6, 1, 0, "three comfortable sessions in a row and it is 7."},
		{"use weekly 1..7 same", 8, "weekly", 5, 1, 3, "one more comfortable session and it is 6."},
		{"use weekly 1..8 same", 9, "weekly", 6, 1, 0, ", the last on 2026-12-15 or later, and it is 7."},
		// Without progress too.
		{"use plain 1 tingled 2,2,2 same", 3, "plain", 8, 0.8, 3, "one more comfortable session and it is 12 breaths a minute."},

		// Stopped: 5 − 2 = 3, f = 0.8.
		{"1,2 same 3 tingled", 4, "work", 3, 0.8, 0, "3 of 10 repetitions today and 9.6 breaths a minute instead of 12, after tingling on 2026-12-03: three comfortable sessions in a row, the last on 2026-12-05 or later, and it is 12 breaths a minute."},
		// 5, 3, 1, and never under 1; f = 0.8³ = 0.512, 12·0.512 = 6.144 and after a step back 12·0.64 = 7.68.
		{"1 tingled 2,3 pain", 4, "work", 1, 0.512, 0, "1 of 10 repetitions today, after pain on 2026-12-02, and 6.14 breaths a minute instead of 12, after pain on 2026-12-03: three … the last on 2026-12-05 or later, and it is 7.68 breaths a minute."},
		{"1 tingled 2 pain", 4, "work", 1, 0.64, 0, "1 of 10 repetitions today and 7.68 breaths a minute instead of 12, after pain on 2026-12-02: three … and it is 9.6 breaths a minute."},

		// A second uncomfortable one in a row is the same.
		{"1 same 2 up2", 3, "work", 5, 1, 0, "to begin with: three"},
		{"1,2 up2", 3, "work", 3, 0.8, 0, "3 of 10 repetitions today and 9.6 breaths a minute instead of 12, after two uncomfortable sessions, the last on 2026-12-02 (more tingling after it than before): three"},
		{"1,2,3 up2", 4, "work", 3, 0.8, 0, "the last on 2026-12-02"},
		{"1..4 up2", 5, "work", 1, 0.64, 0, "the last on 2026-12-04"},
		{"1 up2 2 same 3 up2", 4, "work", 5, 1, 0, "to begin with"},
		// What changes nothing, or only the run, lies between.
		{"1 up2 2 unrated 3 up2", 4, "work", 3, 0.8, 0, "the last on 2026-12-03"},
		{"1 up2 2 breath 3 up2", 4, "work", 3, 0.8, 0, "the last on 2026-12-03"},
		// A stop starts the count again.
		{"1 up2 2 tingled 3 up2", 4, "work", 3, 0.8, 0, "after tingling on 2026-12-02"},

		// The way back: first f, then R. f is exactly 1 again.
		{"1 tingled 2,2,2 same", 3, "work", 3, 0.8, 3, "one more comfortable session and it is 12 breaths a minute."},
		{"1 tingled 2..4 same", 5, "work", 3, 1, 0, "3 of 10 repetitions today, after tingling on 2026-12-01: three comfortable sessions in a row, the last on 2026-12-06 or later, and it is 4."},
		{"1 tingled 2..7 same", 8, "work", 4, 1, 0, "up from 3"},
		// 0.512; 0.64 on the 3rd, 0.8 on the 5th, 1 on the 7th.
		{"1,1,1 pain 3,3,3,5,5,5 same", 6, "work", 1, 0.8, 0, "1 of 10 repetitions today and 9.6 breaths"},
		{"1,1,1 pain 3,3,3,5,5,5,7,7,7 same", 8, "work", 1, 1, 0, "after pain on 2026-12-01: three comfortable sessions in a row, the last on 2026-12-09 or later, and it is 2."},
		{"1 tingled 2,2,3 same 4 tingled 5,5 same", 6, "work", 1, 0.8, 2, "after tingling on 2026-12-04: one more comfortable session and it is 12"},
		// Without progress too: 10 − 2 = 8, after 3 sessions f, after 3 more 8 + 2 = 10.
		{"use plain 1 tingled 2,3 same", 4, "plain", 8, 0.8, 2, "after tingling"},
		{"use plain 1 tingled 2..4 same", 5, "plain", 8, 1, 0, ", the last on 2026-12-06 or later, and it is 10."},
		{"use plain 1 tingled 2..7 same", 8, "plain", 10, 1, 0, "as prescribed."},
		// 10, 6, 2; back after 6 for f: 2 + 4 = 6.
		{"use fours 1,1 tingled 3,3,3,5,5,5,7,7,7 same", 8, "fours", 6, 1, 0, "up from 2: three … the last on 2026-12-09 or later, and it is 10."},
		// 10, 6, 2, 1; 9 sessions for f; 1 + 4 = 5, 9, and 13 is above 10.
		{"use fours 1,1,1 tingled 3,3,3,5,5,5,7,7,7,9,9,9,11,11,11,13,13,13 same", 14, "fours", 10, 1, 0, "as prescribed."},
		// fewer_reps 0: only f falls.
		{"use full 1 tingled", 2, "full", 10, 0.8, 0, "10 of 10 repetitions today, 9.6 breaths a minute instead of 12, after tingling on 2026-12-01: three"},
		// Up to 10 from 7 all the same, by 1.
		{"1..6 same use full 7..9 same", 10, "full", 8, 1, 0, "up from 7: three … the last on 2026-12-11 or later, and it is 9."},
		// slower 0: f is 1 all the time, so the next 3 raise R.
		{"use steady 1 tingled", 2, "steady", 3, 1, 0, "3 of 10 repetitions today, after tingling on 2026-12-01: three … the last on 2026-12-03 or later, and it is 4."},
		{"use steady 1 tingled 2..4 same", 5, "steady", 4, 1, 0, "up from 3"},

		// The floor: 7·0.8 and 7·0.64 are under 6, so both show 6, and the
		// first step back of the two is none to notice: 2 and 2 days.
		{"use low 1,2 tingled", 3, "low", 1, 0.64, 0, "6 breaths a minute instead of 7, after tingling on 2026-12-02: six comfortable sessions in a row, the last on 2026-12-06 or later, and it is 7 breaths a minute."},
		{"use low 1,2 tingled 3 same", 4, "low", 1, 0.64, 1, "five more comfortable sessions, the last on 2026-12-06 or later, and it is 7 breaths a minute."},
		// At the floor nothing is slower; 3 sessions for f, 3 for R, and then 9 and 3.
		{"use floor 1 tingled", 2, "floor", 3, 0.8, 0, "3 of 10 repetitions today, after tingling on 2026-12-01: six comfortable sessions in a row, the last on 2026-12-05 or later, and it is 4."},
		{"use floor 1..3 tingled", 4, "floor", 1, 0.512, 0, "1 of 10 repetitions today, after tingling on 2026-12-02: 12 comfortable sessions in a row, the last on 2026-12-11 or later, and it is 2."},
		// A taper is slowed from end to end: 8·0.8 = 6.4, 12·0.8 = 9.6.
		{"use taper 1 tingled", 2, "taper", 3, 0.8, 0, "6.4 to 9.6 breaths a minute instead of 8 to 12"},
		// Without a lead-in 3 repetitions are 4 breaths, the last at 12·(8/12)^(3/9) = 10.48; ·0.8 = 8.386.
		{"use long 1 tingled", 2, "long", 3, 0.8, 0, "8.39 to 9.6 breaths a minute instead of 10.5 to 12"},

		// The baseline: the median of the first three ratings before, of two the
		// lower; 1 above it is comfortable, 2 above is not.
		{"1 4/0>4/0 2 2/0>3/0", 3, "work", 5, 1, 2, "to begin with: one"},
		{"1 2/0>2/0 2 4/0>4/0", 3, "work", 5, 1, 0, "to begin with: three"},
		{"1 2/0>2/0 2 6/0>3/0 3 4/0>5/0", 4, "work", 6, 1, 0, "up from 5"}, // 4, not 2
		{"1 2/0>2/0 2 6/0>3/0 3 4/0>6/0", 4, "work", 5, 1, 0, "to begin with"},
		{"1,2,3 2/0>2/0 4,5,6 6/0>3/0", 7, "work", 7, 1, 0, "up from 6"}, // a 4th and more do not count
		{"1,2,3 2/0>2/0 4,5 6/0>4/0", 6, "work", 4, 0.8, 0, "after two uncomfortable sessions, the last on 2026-12-05 (more tingling than in the first sessions)"},
		{"1,2,3 0/1>0/1 4,5 0/3>0/3", 6, "work", 4, 0.8, 0, "(more pain than in the first sessions)"},
		// Sessions without a rating before do not count for it; one after is
		// enough to be above it.
		{"1,2 unrated 3 4/0>4/0 4,5 4/0>5/0", 6, "work", 6, 1, 0, "up from 5"},
		{"1,2 4/0>4/0 3,4 -/->6/0", 5, "work", 3, 0.8, 0, "(more tingling than in the first sessions)"},
		{"1,2 same 3 -/->6/0", 4, "work", 5, 1, 0, "to begin with: three"},
		{"1 -/->6/6 2 same", 3, "work", 5, 1, 1, "to begin with"},
		// A climb of one point a session: 1 above 0; 2 above 0, 3 above 1.
		{"1 0/0>1/0 2 1/0>2/0", 3, "work", 5, 1, 0, "to begin with: three"},
		{"1 0/0>1/0 2 1/0>2/0 3 2/0>3/0", 4, "work", 3, 0.8, 0, "the last on 2026-12-03"},
		// Another prescription has its own.
		{"1,2,3 2/0>2/0 use rate 4,5,6 4/0>5/0", 7, "rate", 7, 1, 0, "up from 6"},
		{"1,2,3 2/0>2/0 4,5,6 4/0>5/0", 7, "work", 4, 0.8, 0, "after two"},

		// A gap: R is 7 on day 6; from 6 to 13 are 7 days, to 14 are 8, more than 7: 7 − 1.
		{"1..6 same", 13, "work", 7, 1, 0, "up from 6"},
		{"1..6 same", 14, "work", 6, 1, 0, "6 of 10 repetitions today, after a gap of 8 days until 2026-12-14: three comfortable sessions in a row, the last on 2026-12-16 or later, and it is 7."},
		// Once per gap, however long, and also before a session that is in the diary already; the run stays.
		{"1..6 same", 31, "work", 6, 1, 0, "after a gap of 25 days"},
		{"1..7,20 same", 21, "work", 6, 1, 2, "after a gap of 13 days until 2026-12-20: one … on 2026-12-22 or later, and it is 7."},
		{"1..6 same 14 unrated 22 unrated", 22, "work", 5, 1, 0, "until 2026-12-22"},
		// Not under reps_from: max(5, 5 − 1); to it: max(3, 7 − 4); never up to it: min(3, max(5, 3 − 1)).
		{"1 same", 20, "work", 5, 1, 1, "to begin with"},
		{"use quick 1,3 same", 20, "quick", 3, 1, 0, "after a gap of 17 days"},
		{"1 tingled", 20, "work", 3, 0.8, 0, "after tingling on 2026-12-01"},
		// 10, tingling: 8 and 0.8, a gap: 7. Two reasons where there are two.
		{"use plain 1 same use work 5 tingled", 20, "work", 7, 0.8, 0, "7 of 10 repetitions today, after a gap of 15 days until 2026-12-20, and 9.6 breaths a minute instead of 12, after tingling on 2026-12-05: three"},
		// Without progress gaps do not count.
		{"use plain 1 same", 30, "plain", 10, 1, 1, "as prescribed"},

		// Dates that are not known: no gap, and no day has passed.
		{"1..6 same", 0, "work", 7, 1, 0, "7 of 10 repetitions today, up from 6; it stays like this until the date is known."},
		{"?,?,?,? same", 0, "work", 5, 1, 3, "to begin with; it stays like this until the date is known."},
		{"use now ?,?,? same", 0, "now", 6, 1, 0, "up from 5: three comfortable sessions in a row and it is 7."},
		{"1,3 same ? same", 5, "work", 5, 1, 3, "one more comfortable session and it is 6."},
		{"1,3 same ?,5 same", 6, "work", 6, 1, 0, ", the last on 2026-12-07 or later, and it is 7."},
		// The first, or the one that changed it, has none: from the next that has.
		{"?,?,?,? same", 20, "work", 5, 1, 3, "one more comfortable session, on 2026-12-22 or later, and it is 6."},
		{"? tingled 2,2,3 same", 4, "work", 3, 0.8, 3, "after tingling: one more comfortable session and it is 12 breaths a minute."},
		{"? tingled 2,2,3,4 same", 5, "work", 3, 1, 0, "after tingling: three"},
		// For a gap it is passed over, though it may have been in it: 7 − 1.
		{"1..6 same 6? same", 14, "work", 6, 1, 1, "after a gap of 8 days"},

		// Another prescription: R stays up to the new G, f = 1, both counts 0.
		{"1..7 same", 8, "six", 6, 1, 0, "6 of 6 repetitions today, as prescribed; the prescription is new."},
		{"1..7 same", 8, "fifteen", 7, 1, 0, "7 of 15 repetitions today, as under the prescription before; the prescription is new: three"},
		{"1 tingled 2,3 same", 4, "rate", 3, 1, 0, "as under the prescription before; the prescription is new: three … the last on 2026-12-06 or later, and it is 4."},
		{"1 tingled use rate 2 same", 3, "rate", 3, 1, 1, "as under the prescription before: two"},
		{"1 up2 use rate 2 up2", 3, "rate", 5, 1, 0, "as under the prescription before: three"},
		{"use plain 1 same", 2, "work", 10, 1, 0, "10 of 10 repetitions today, as prescribed; the prescription is new."},
		// And back again: the second change is one too. R was capped at 6 in between.
		{"1..6 same use six 7 same", 8, "work", 6, 1, 0, "the prescription is new"},
		{"1,2 same use rate 3 same use work 4 same", 5, "work", 5, 1, 1, "two more comfortable sessions"},
		// Each session has its own rules: by quick's 3, 7; by work's, where
		// quick's are not stored, 5.
		{"use quick 1,3 same", 4, "work", 7, 1, 0, "as under the prescription before; the prescription is new"},
		{"use-unstored quick 1,3 same", 4, "work", 5, 1, 0, "as under the prescription before"},
		{"use-unstored work 1..3 same", 4, "work", 6, 1, 0, "up from 5"},
		// First the change, then the gap, by the new rules: 10, capped at 6, then
		// 6 − 1. (The gap first would be 9 and then 6.)
		{"use plain 1 same", 20, "six", 5, 1, 0, "after a gap of 19 days until 2026-12-20; the prescription is new: three"},
		// The new rules have no progress: no step back.
		{"1..3 same", 20, "plain", 6, 1, 0, "as under the prescription before"},

		// More than one exercise: G is the largest.
		{"", 1, "two", 5, 1, 0, "5 of 10 repetitions today (smaller sets in proportion), to begin with"},
		{"use plain 1 same", 2, "two", 10, 1, 0, "10 of 10 repetitions today, as prescribed; the"},
	} {
		c.check(t)
	}
}

// What a session was shows after two comfortable ones: once, and twice.
func TestVerdicts(t *testing.T) {
	type level struct {
		reps int
		rate float64
		run  int
	}
	// A third comfortable one on day 3 is a step up, the next begins a run; two
	// uncomfortable ones are a step back.
	means := map[string][2]level{
		"comfortable":   {{6, 1, 0}, {6, 1, 1}},
		"unrated":       {{5, 1, 2}, {5, 1, 2}},
		"uncomfortable": {{5, 1, 0}, {3, 0.8, 0}},
		"cut short":     {{5, 1, 0}, {5, 1, 0}},
		"stopped":       {{3, 0.8, 0}, {1, 0.64, 0}},
	}
	for _, c := range []struct {
		kind, name, is string
		why            string // after the second
	}{
		// Each rating after at most 1 above before, settled in time where that
		// was timed, 2 minutes being in time.
		{"same", "work", "comfortable", ""},
		{"better", "work", "comfortable", ""},
		{"up1", "work", "comfortable", ""},
		{"up1in2m", "work", "comfortable", ""},
		{"up1in2m", "minute", "stopped", "after symptoms that did not settle in time on 2026-12-04"},
		{"box", "work", "comfortable", ""},
		{"notworse", "work", "comfortable", ""},

		{"unrated", "work", "unrated", ""},
		{"2/1>-/-", "work", "unrated", ""},
		{"2/1>2/-", "work", "unrated", ""},
		{"-/1>2/1", "work", "unrated", ""},

		// 2 above before, or above the baseline.
		{"2/1>4/1", "work", "uncomfortable", "after two uncomfortable sessions, the last on 2026-12-04 (more tingling after it than before)"},
		{"2/1>2/3", "work", "uncomfortable", "(more pain after it than before)"},
		{"2/->4/-", "work", "uncomfortable", "(more tingling after it than before)"},
		{"3/1>4/1", "work", "uncomfortable", "(more tingling than in the first sessions)"},
		{"4/1>4/1", "work", "uncomfortable", "(more tingling than in the first sessions)"},
		{"2/4>2/3", "work", "uncomfortable", "(more pain than in the first sessions)"},
		{"boxup", "work", "uncomfortable", "(stronger after it than before)"},
		{"sameup", "work", "uncomfortable", "(stronger after it than before)"},
		{"up2box", "work", "uncomfortable", "(more tingling after it than before)"},
		{"worse", "work", "uncomfortable", "(worse until the next morning)"},
		{"early", "work", "uncomfortable", "(ended early)"},
		{"cut", "work", "uncomfortable", "(interrupted)"},
		{"left", "work", "unrated", ""}, // begun, and nothing done
		// A stop outside a set: unexplained, gone on after, or for pain.
		{"out", "work", "uncomfortable", "(stopped outside a set)"},
		{"out-on", "work", "uncomfortable", "(stopped outside a set)"},
		{"out-pain", "work", "uncomfortable", "(stopped outside a set)"},

		{"breath", "work", "cut short", ""},
		{"breath-said", "work", "cut short", ""},
		{"head", "work", "cut short", ""},

		{"tingled", "work", "stopped", "after tingling on 2026-12-04"},
		{"pain", "work", "stopped", "after pain on 2026-12-04"},
		{"unsaid", "work", "stopped", "after a stop on 2026-12-04"},
		{"went-on", "work", "stopped", "after a stop on 2026-12-04"},
		{"two-stops", "work", "stopped", "after a stop on 2026-12-04"},
		{"no-stop", "work", "stopped", "after a stop on 2026-12-04"},
		{"out-still", "work", "stopped", "after symptoms that did not settle in time on 2026-12-04"},
		{"up1late", "work", "stopped", "after symptoms that did not settle in time on 2026-12-04"},
		{"up1not", "work", "stopped", "after symptoms that did not settle in time on 2026-12-04"},
		{"2/1>5/1", "work", "stopped", "after tingling that rose by 3 on 2026-12-04"},
		{"2/1>2/5", "work", "stopped", "after pain that rose by 4 on 2026-12-04"},
	} {
		begun := "use " + c.name + " 1,2 same "
		for i, days := range []string{"3 ", "3,4 "} {
			want := means[c.is][i]
			why := ""
			if i == 1 {
				why = c.why
			}
			answer{begun + days + c.kind, 5, c.name, want.reps, want.rate, want.run, why}.check(t)
		}
	}
}

// Diaries from before there was a number of days have rules that do not say it:
// their sessions stepped up without. The same file's sessions now wait.
func TestOldRules(t *testing.T) {
	var old progress.Rules
	err := json.Unmarshal([]byte(`{"goal":10,"reps_from":5,"add":1,"after":3,"fewer_reps":2,"slower":0.2,"settle_within_ns":120000000000}`), &old)
	if err != nil {
		t.Fatal(err)
	}
	list := diary("1,1,1,1,1,1 same 2,2,2 same")
	for i := range 6 {
		list[i].Rules = &old
	}
	a := progress.Today(prescriptions["work"], list, date(2))
	if a.Level.Reps != 7 || a.Run != 3 {
		t.Errorf("six sessions under the old rules and three more: %+v, want R 7 and run 3", a)
	}
}

func TestRulesOf(t *testing.T) {
	for name, want := range map[string]string{
		"quick":  `{"goal":10,"reps_from":3,"add":4,"after":1,"days":2,"fewer_reps":2,"slower":0.2,"settle_within_ns":120000000000}`,
		"minute": `{"goal":10,"reps_from":5,"add":1,"after":3,"days":2,"fewer_reps":2,"slower":0.2,"settle_within_ns":60000000000}`,
		"fours":  `{"goal":10,"reps_from":0,"add":4,"after":3,"days":2,"fewer_reps":4,"slower":0.2,"settle_within_ns":120000000000}`,
		"full":   `{"goal":10,"reps_from":0,"add":1,"after":3,"days":2,"fewer_reps":0,"slower":0.2,"settle_within_ns":120000000000}`,
	} {
		rules := progress.RulesOf(prescriptions[name])
		got, err := json.Marshal(rules)
		if err != nil {
			t.Fatal(err)
		}
		// Diaries hold this: another form must still read the old one.
		if string(got) != want {
			t.Errorf("%s: %s, want %s", name, got, want)
		}
		var back progress.Rules
		if err := json.Unmarshal(got, &back); err != nil || back != rules {
			t.Errorf("%s comes back as %+v, %v", got, back, err)
		}
	}
}
