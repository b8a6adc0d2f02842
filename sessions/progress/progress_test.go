package progress_test

import (
	"encoding/json"
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"
	"testing"
	"time"

	"glidepace/pacer"
	"glidepace/sessions"
	"glidepace/sessions/progress"
)

// Prescriptions of the diaries below. Where nothing else is said: 10
// repetitions, {slower: 20%, floor: 6, fewer_reps: 2, settle_within: 2m}.
var prescriptions = map[string]*sessions.Session{
	"work":    prescribe(10, 12, "progress: {reps_from: 5, add: 1, after: 3}"),
	"quick":   prescribe(10, 12, "progress: {reps_from: 3, add: 4, after: 1}"),
	"six":     prescribe(6, 12, "progress: {reps_from: 3, add: 1, after: 3}"),
	"fifteen": prescribe(15, 12, "progress: {reps_from: 5, add: 1, after: 3}"),
	"rate":    prescribe(10, 13, "progress: {reps_from: 5, add: 1, after: 3}"),
	"steady":  prescribe(10, 12, "progress: {reps_from: 5}\nease: {slower: 0%}"),
	"minute":  prescribe(10, 12, "progress: {reps_from: 5}\nease: {settle_within: 1m}"),
	"low":     prescribe(10, 7, "progress: {reps_from: 5}"), // 20 % slower would be 5.6: under the floor
	"floor":   prescribe(10, 6, "progress: {reps_from: 5}"), // at the floor
	"taper":   prescribe(10, 8, "progress: {reps_from: 5}\nlead_in: {breaths: 9}", ", taper: {from: 12, breaths: 9}"),
	"long":    prescribe(10, 8, "progress: {reps_from: 5}", ", taper: {from: 12, breaths: 9}"),
	"plain":   prescribe(10, 12, ""),
	"fours":   prescribe(10, 12, "ease: {fewer_reps: 4}"),
	"full":    prescribe(10, 12, "ease: {fewer_reps: 0}"),
	"single":  prescribe(1, 12, ""),
	"two": prescribe(10, 12, `  - {glide: ulnar-elbow, side: left, reps: 4}
progress: {reps_from: 5}`),
}

// prescribe reads a session file of one exercise; more follows it, and what is
// said of the breath follows its rate.
func prescribe(reps int, rate float64, more string, breath ...string) *sessions.Session {
	s, err := sessions.Parse("session.yaml", strings.NewReader(fmt.Sprintf(`glidepace: 1
title: By hand
breath: {rate: %g, ratio: "1:1.5"%s}
exercises:
  - {glide: median-wrist, side: right, reps: %d}
%s
`, rate, strings.Join(breath, ""), reps, more)))
	if err != nil {
		panic(err)
	}
	return s
}

var firstDay = sessions.DateOf(time.Date(2026, 12, 1, 0, 0, 0, 0, time.UTC))

func ratings(tingling, pain int) sessions.Ratings {
	return sessions.Ratings{Tingling: &tingling, Pain: &pain}
}

// stops is one, while a set ran.
func stops(s sessions.Symptom) []progress.Stop { return []progress.Stop{{Symptom: s, InSet: true}} }

// same is completed and rated, with no change.
func same() progress.Entry {
	return progress.Entry{Outcome: "completed", Before: ratings(2, 1), After: ratings(2, 1)}
}

func with(change func(e *progress.Entry)) progress.Entry {
	e := same()
	change(&e)
	return e
}

// happened has a word for each kind of session.
var happened = map[string]progress.Entry{
	"same":    same(),
	"better":  with(func(e *progress.Entry) { e.After = ratings(0, 0) }),
	"up1":     with(func(e *progress.Entry) { e.After = ratings(3, 2) }), // its settling was not timed
	"up1in2m": with(func(e *progress.Entry) { e.After = ratings(3, 1); e.Settled = 2 * time.Minute }),
	"up1late": with(func(e *progress.Entry) { e.After = ratings(3, 1); e.Settled = 2*time.Minute + time.Second }),
	"up1not":  with(func(e *progress.Entry) { e.After = ratings(3, 1); e.NotSettled = true }),
	"up2":     with(func(e *progress.Entry) { e.After = ratings(4, 1) }),
	"pain2":   with(func(e *progress.Entry) { e.After = ratings(1, 3) }),
	"bare":    {Outcome: "completed"}, // not rated
	"before":  with(func(e *progress.Entry) { e.After = sessions.Ratings{} }),
	"half":    with(func(e *progress.Entry) { e.After.Pain = nil }),
	"half2":   with(func(e *progress.Entry) { e.After = ratings(4, 1); e.Before.Pain = nil }),
	"box":     {Outcome: "completed", Felt: sessions.NoStronger},
	"boxup":   {Outcome: "completed", Felt: sessions.Stronger},
	"sameup":  with(func(e *progress.Entry) { e.Felt = sessions.Stronger }),
	"up2box":  with(func(e *progress.Entry) { e.After = ratings(4, 1); e.Felt = sessions.NoStronger }),

	"tingled":   {Outcome: "symptoms", Stops: stops(sessions.Tingling), EndedBy: sessions.Tingling},
	"went-on":   with(func(e *progress.Entry) { e.Stops = stops(sessions.Tingling) }),
	"pain":      {Outcome: "symptoms", Stops: stops(sessions.Pain), EndedBy: sessions.Pain},
	"unsaid":    {Outcome: "symptoms", Stops: stops(sessions.NotSaid), EndedBy: sessions.NotSaid},
	"breath":    {Outcome: "symptoms", Stops: stops(sessions.Breathing), EndedBy: sessions.Breathing},
	"breath-on": with(func(e *progress.Entry) { e.Stops = stops(sessions.Breathing) }),
	"early":     with(func(e *progress.Entry) { e.Outcome = "ended-early" }),
	"cut":       {Outcome: "interrupted"},
}

// diary reads sessions written as "DAY,DAY… KIND": the days of December 2026,
// ? for a date that is not known, 6? for one not before the 6th, and "use NAME" for the prescription from
// there on, which is stored with each, or "bare-use NAME" where it is not.
func diary(text string) []progress.Entry {
	var list []progress.Entry
	name, stored := "work", true
	fields := strings.Fields(text)
	for i := 0; i+1 < len(fields); i += 2 {
		if fields[i] == "use" || fields[i] == "bare-use" {
			name, stored = fields[i+1], fields[i] == "use"
			continue
		}
		for day := range strings.SplitSeq(fields[i], ",") {
			e, ok := happened[fields[i+1]]
			if !ok {
				panic("no kind of session: " + fields[i+1])
			}
			e.ID = fmt.Sprintf("s%02d", len(list))
			e.Seq = int64(len(list))
			s := prescriptions[name]
			e.Prescription = s.Hash()
			if stored {
				e.Rules = new(progress.RulesOf(s))
			}
			if day, notBefore := strings.CutSuffix(day, "?"); day != "" {
				n, err := strconv.Atoi(day)
				if err != nil {
					panic(err)
				}
				if !notBefore {
					e.Date = firstDay.AddDays(n - 1)
				}
				e.Start = time.Date(2026, 12, n, 18, len(list), 0, 0, time.UTC)
			}
			list = append(list, e)
		}
	}
	return list
}

func TestToday(t *testing.T) {
	for _, c := range []struct {
		diary string
		today int    // day of December 2026; 0 when not known
		name  string // today's prescription
		reps  int
		rate  float64
		run   int
		why   string // words that the reason has, with … for what may be between
	}{
		// Where it begins: at reps_from, or at G without progress.
		{"", 1, "work", 5, 1, 0, "5 of 10 repetitions today, to begin with: three comfortable sessions in a row and it is 6."},
		{"", 1, "plain", 10, 1, 0, "10 of 10 repetitions today, as prescribed."},
		{"", 0, "single", 1, 1, 0, "1 of 1 repetition today, as prescribed."},

		// Comfortable sessions: 3 of them are 1 more, the run starts again.
		{"1 same", 2, "work", 5, 1, 1, "to begin with: two comfortable sessions more and it is 6."},
		{"1,2 same", 3, "work", 5, 1, 2, "one comfortable session more and it is 6."},
		{"1,2,3 same", 4, "work", 6, 1, 0, "6 of 10 repetitions today, up from 5: three comfortable sessions in a row and it is 7."},
		{"1,1,2,2,3,3,4 same", 5, "work", 7, 1, 1, "7 of 10 repetitions today, up from 6: two comfortable sessions more and it is 8."},
		// 15 sessions are 5 steps, from 5 to 10; a 16th to 18th add nothing, but the run goes on.
		{"1,1,1,2,2,2,3,3,3,4,4,4,5,5,5 same", 6, "work", 10, 1, 0, "10 of 10 repetitions today, as prescribed."},
		{"1,1,1,2,2,2,3,3,3,4,4,4,5,5,5,6,6,6,7 same", 7, "work", 10, 1, 1, "as prescribed."},
		// 3, 3+4 = 7, 7+4 = 11 but never above 10; after each session.
		{"use quick 1 same", 2, "quick", 7, 1, 0, "up from 3: one comfortable session and it is 10."},
		{"use quick 1,2 same", 3, "quick", 10, 1, 0, "as prescribed."},

		// What is comfortable: neither rating up by more than 1, settled in
		// time where it was timed, 2 minutes being in time.
		{"1 same 2 better 3 up1", 4, "work", 6, 1, 0, "up from 5"},
		{"1 up1in2m", 2, "work", 5, 1, 1, "two comfortable sessions more"},
		{"1 same 2 up1late", 3, "work", 5, 1, 0, "three comfortable sessions in a row"},
		{"1 same 2 up1not", 3, "work", 5, 1, 0, "to begin with"},
		{"1,2 same 3 up2", 4, "work", 5, 1, 0, "to begin with"},
		{"1,2 same 3 pain2", 4, "work", 5, 1, 0, "to begin with"}, // pain 1 → 3, tingling 2 → 1
		// The time to settle in is the prescription's: 2 minutes are too long for 1.
		{"use minute 1 same 2 up1in2m", 3, "minute", 5, 1, 0, "to begin with"},
		// The box asks instead of rating.
		{"1,2,3 box", 4, "work", 6, 1, 0, "up from 5"},
		{"1,2 box 3 boxup", 4, "work", 5, 1, 0, "to begin with"},
		// Rated and asked: the worse of the two.
		{"1,2 same 3 sameup", 4, "work", 5, 1, 0, "to begin with"},
		{"1,2 same 3 up2box", 4, "work", 5, 1, 0, "to begin with"},

		// Not rated, in whole or in part: run, R and f stay.
		{"1,2 same 3 bare 4 before 5 half", 6, "work", 5, 1, 2, "one comfortable session more"},
		{"1,2 same 3 bare 4 same", 5, "work", 6, 1, 0, "up from 5"},
		{"1 tingled 2 bare", 3, "work", 3, 0.8, 0, "after tingling on 2026-12-01"},
		// Half a rating is enough to know that one rose by 2.
		{"1,2 same 3 half2", 4, "work", 5, 1, 0, "to begin with"},

		// Anything else: the run starts at 0, R and f stay.
		{"1,2,3,4 same 5 early", 6, "work", 6, 1, 0, "up from 5"},
		{"1,2 same 3 cut 4 same", 5, "work", 5, 1, 1, "to begin with"},

		// Stopped for tingling or pain, whether or not it went on: 5 − 2 = 3, f = 0.8.
		{"1,2 same 3 tingled", 4, "work", 3, 0.8, 0, "3 of 10 repetitions today and 9.6 breaths a minute instead of 12, after tingling on 2026-12-03: three comfortable sessions in a row and it is 12 breaths a minute."},
		{"1,2 same 3 went-on", 4, "work", 3, 0.8, 0, "after tingling on 2026-12-03"},
		{"1,2 same 3 pain", 4, "work", 3, 0.8, 0, "after pain on 2026-12-03"},
		{"1,2 same 3 unsaid", 4, "work", 3, 0.8, 0, "after symptoms on 2026-12-03"},
		// 5, 3, 1, and never under 1; f = 0.8³ = 0.512, 12·0.512 = 6.144 and after a step back 12·0.64 = 7.68.
		{"1 tingled 2,3 pain", 4, "work", 1, 0.512, 0, "1 of 10 repetitions today, after pain on 2026-12-02, and 6.14 breaths"},
		{"1 tingled 2 pain", 4, "work", 1, 0.64, 0, "1 of 10 repetitions today and 7.68 breaths a minute instead of 12, after pain on 2026-12-02: three … and it is 9.6 breaths a minute."},

		// The way back: first f, then R. f is exactly 1 again.
		{"1 tingled 2,3,4 same", 5, "work", 3, 1, 0, "3 of 10 repetitions today, after tingling on 2026-12-01: three comfortable sessions in a row and it is 4."},
		{"1 tingled 2,3,4,5,6,7 same", 8, "work", 4, 1, 0, "up from 3"},
		{"1,1 pain 2,2,2 same", 3, "work", 1, 0.8, 0, "9.6 breaths"},
		{"1,1,1 pain 2,2,2,3,3,3,4,4,4 same", 5, "work", 1, 1, 0, "after pain on 2026-12-01: three comfortable sessions in a row and it is 2."},
		{"1 tingled 2,2,3 same 4 tingled 5,5 same", 6, "work", 1, 0.8, 2, "after tingling on 2026-12-04: one comfortable session more and it is 12"},
		// 3; f; 4, 5, 6 and one more; 6 − 2 = 4; f; 4 + 1.
		{"1 tingled 2,2,2,3,3,3,4,4,4,5,5,5,6 same 7 tingled 8,8,8,8,8,8 same", 8, "work", 5, 1, 0, "up from 4"},
		// Without progress too: 10 − 2 = 8, after 3 sessions f, after 3 more 8 + 2 = 10.
		{"use plain 1 tingled 2,3 same", 4, "plain", 8, 0.8, 2, "after tingling"},
		{"use plain 1 tingled 2,3,4 same", 5, "plain", 8, 1, 0, "and it is 10."},
		{"use plain 1 tingled 2,3,4,5,6,7 same", 8, "plain", 10, 1, 0, "as prescribed."},
		// 10, 6, 2; back after 6 for f: 2 + 4 = 6; then 10.
		{"use fours 1,1 tingled 2,2,2,3,3,3,4,4,4 same", 5, "fours", 6, 1, 0, "up from 2: three … and it is 10."},
		// 10, 6, 2, 1; 9 sessions for f; 1 + 4 = 5, 9, and 13 is above 10.
		{"use fours 1,1,1 tingled 2,2,2,3,3,3,4,4,4,5,5,5,6,6,6,7,7,7 same", 8, "fours", 10, 1, 0, "as prescribed."},
		// fewer_reps 0: only f falls.
		{"use full 1 tingled", 2, "full", 10, 0.8, 0, "10 of 10 repetitions today, 9.6 breaths a minute instead of 12, after tingling on 2026-12-01: three"},
		// Up to 10 from 7 all the same, by 1.
		{"use work 1,1,1,2,2,2 same use full 3,3,3 same", 4, "full", 8, 1, 0, "up from 7: three … and it is 9."},
		// slower 0: f is 1 all the time, so the next 3 raise R.
		{"use steady 1 tingled", 2, "steady", 3, 1, 0, "3 of 10 repetitions today, after tingling on 2026-12-01: three … and it is 4."},
		{"use steady 1 tingled 2,3,4 same", 5, "steady", 4, 1, 0, "up from 3"},

		// The floor: 7·0.8 and 7·0.64 are under 6, so both show 6, and the
		// first step back of the two is none to notice.
		{"use low 1,2 tingled", 3, "low", 1, 0.64, 0, "6 breaths a minute instead of 7, after tingling on 2026-12-02: six comfortable sessions in a row and it is 7 breaths a minute."},
		{"use low 1,2 tingled 3 same", 4, "low", 1, 0.64, 1, "five comfortable sessions more and it is 7 breaths a minute."},
		// At the floor nothing is slower; 3 sessions for f, 3 for R, and then 9 and 3.
		{"use floor 1 tingled", 2, "floor", 3, 0.8, 0, "3 of 10 repetitions today, after tingling on 2026-12-01: six comfortable sessions in a row and it is 4."},
		{"use floor 1,2,3 tingled", 4, "floor", 1, 0.512, 0, "12 comfortable sessions in a row and it is 2."},
		// A taper is slowed from end to end: 8·0.8 = 6.4, 12·0.8 = 9.6.
		{"use taper 1 tingled", 2, "taper", 3, 0.8, 0, "6.4 to 9.6 breaths a minute instead of 8 to 12"},
		// Without a lead-in 3 repetitions are 4 breaths, the last at 12·(8/12)^(3/9) = 10.48; ·0.8 = 8.386.
		{"use long 1 tingled", 2, "long", 3, 0.8, 0, "8.39 to 9.6 breaths a minute instead of 10.5 to 12"},

		// Stopped for the breath: the run starts at 0, whether or not it went on.
		{"1,2 same 3 breath", 4, "work", 5, 1, 0, "to begin with"},
		{"1,2 same 3 breath-on 4 same", 5, "work", 5, 1, 1, "to begin with"},
		{"1 tingled 2,3 same 4 breath", 5, "work", 3, 0.8, 0, "after tingling on 2026-12-01"},

		// A gap: R is 7 on day 6; from 6 to 13 are 7 days, to 14 are 8, more than 7: 7 − 1.
		{"1,2,3,4,5,6 same", 13, "work", 7, 1, 0, "up from 6"},
		{"1,2,3,4,5,6 same", 14, "work", 6, 1, 0, "6 of 10 repetitions today, after a gap of 8 days until 2026-12-14: three comfortable sessions in a row and it is 7."},
		// Once per gap, however long, and also before a session that is in the diary already; the run stays.
		{"1,2,3,4,5,6 same", 31, "work", 6, 1, 0, "after a gap of 25 days"},
		{"1,2,3,4,5,6,7 same 20 same", 21, "work", 6, 1, 2, "after a gap of 13 days until 2026-12-20: one"},
		{"1,2,3,4,5,6 same 14 bare 22 bare", 22, "work", 5, 1, 0, "until 2026-12-22"},
		// Not under reps_from: max(5, 5 − 1); to it: max(3, 7 − 4); never up to it: min(3, max(5, 3 − 1)).
		{"1 same", 20, "work", 5, 1, 1, "to begin with"},
		{"use quick 1 same", 20, "quick", 3, 1, 0, "after a gap of 19 days"},
		{"1 tingled", 20, "work", 3, 0.8, 0, "after tingling on 2026-12-01"},
		// 10, tingling: 8 and 0.8, a gap: 7. Two reasons where there are two.
		{"use plain 1 same use work 5 tingled", 20, "work", 7, 0.8, 0, "7 of 10 repetitions today, after a gap of 15 days until 2026-12-20, and 9.6 breaths a minute instead of 12, after tingling on 2026-12-05: three"},
		// Without progress gaps do not count.
		{"use plain 1 same", 30, "plain", 10, 1, 1, "as prescribed"},
		// Dates that are not known: no gap, else as ever.
		{"1,2,3,4,5,6 same", 0, "work", 7, 1, 0, "up from 6"},
		{"?,?,?,? same", 20, "work", 6, 1, 1, "up from 5"},
		// For a gap it is passed over, though it may have been in it: 7 − 1.
		{"1,2,3,4,5,6 same 6? same", 14, "work", 6, 1, 1, "after a gap of 8 days"},
		{"?,? same ? tingled", 0, "work", 3, 0.8, 0, "instead of 12, after tingling: three"},

		// Another prescription: R stays up to the new G, f = 1, run = 0.
		{"1,2,3,4,5,6,7 same", 8, "six", 6, 1, 0, "6 of 6 repetitions today, as prescribed; the prescription is new."},
		{"1,2,3,4,5,6,7 same", 8, "fifteen", 7, 1, 0, "7 of 15 repetitions today, as under the prescription before; the prescription is new: three"},
		{"1 tingled 2,3 same", 4, "rate", 3, 1, 0, "as under the prescription before; the prescription is new: three … and it is 4."},
		{"1 tingled use rate 2 same", 3, "rate", 3, 1, 1, "as under the prescription before: two"},
		{"use plain 1 same", 2, "work", 10, 1, 0, "10 of 10 repetitions today, as prescribed; the prescription is new."},
		// And back again: the second change is one too. R was capped at 6 in between.
		{"1,2,3,4,5,6 same use six 7 same", 8, "work", 6, 1, 0, "the prescription is new"},
		{"1,2 same use rate 3 same use work 4 same", 5, "work", 5, 1, 1, "two comfortable sessions more"},
		// Each session has its own rules: by quick's two sessions are 3, 7, 10;
		// by work's, where quick's are not stored, 5 and 5.
		{"use quick 1,2 same", 3, "work", 10, 1, 0, "as prescribed; the prescription is new"},
		{"bare-use quick 1,2 same", 3, "work", 5, 1, 0, "as under the prescription before"},
		{"bare-use work 1,2,3 same", 4, "work", 6, 1, 0, "up from 5"},
		// First the change, then the gap, by the new rules: 10, capped at 6, then
		// 6 − 1. (The gap first would be 9 and then 6.)
		{"use plain 1 same", 20, "six", 5, 1, 0, "after a gap of 19 days until 2026-12-20; the prescription is new: three"},
		// The new rules have no progress: no step back.
		{"1,2,3 same", 20, "plain", 6, 1, 0, "as under the prescription before"},

		// More than one exercise: G is the largest.
		{"", 1, "two", 5, 1, 0, "5 of 10 repetitions today (smaller sets in proportion), to begin with"},
		{"use plain 1 same", 2, "two", 10, 1, 0, "10 of 10 repetitions today, as prescribed; the"},
	} {
		today := sessions.Date{}
		if c.today > 0 {
			today = firstDay.AddDays(c.today - 1)
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

// What a session is worked up to is what the timeline has.
func TestLevelIsLaidOut(t *testing.T) {
	s := prescriptions["two"]
	a := progress.Today(s, nil, firstDay)
	tl, err := pacer.NewAt(s, a.Level)
	if err != nil {
		t.Fatal(err)
	}
	if tl.Repetitions != 5+2 { // 10·5/10 and 4·5/10
		t.Errorf("%d repetitions at %+v, want 7", tl.Repetitions, a.Level)
	}
}

func TestRulesOf(t *testing.T) {
	for name, want := range map[string]string{
		"quick":  `{"goal":10,"reps_from":3,"add":4,"after":1,"fewer_reps":2,"slower":0.2,"settle_within_ns":120000000000}`,
		"minute": `{"goal":10,"reps_from":5,"add":1,"after":3,"fewer_reps":2,"slower":0.2,"settle_within_ns":60000000000}`,
		"fours":  `{"goal":10,"reps_from":0,"add":4,"after":3,"fewer_reps":4,"slower":0.2,"settle_within_ns":120000000000}`,
		"full":   `{"goal":10,"reps_from":0,"add":1,"after":3,"fewer_reps":0,"slower":0.2,"settle_within_ns":120000000000}`,
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

// Sessions are put in order by their start, then Seq, then ID, whatever the
// order they come in.
func TestOrder(t *testing.T) {
	s := prescriptions["work"]
	hour := func(n int, id string, seq int64, kind string) progress.Entry {
		e := happened[kind]
		e.ID, e.Seq, e.Prescription = id, seq, s.Hash()
		if n > 0 {
			e.Start = time.Date(2026, 12, 1, n, 0, 0, 0, time.FixedZone("", 3600*n)) // all at midnight of UTC
			e.Start = e.Start.Add(time.Duration(n) * time.Hour)
		}
		return e
	}
	// Tingling last: 3 and 0.8, run 0. Anywhere else the run is not 0.
	for name, list := range map[string][]progress.Entry{
		"start": {hour(1, "c", 9, "same"), hour(2, "b", 8, "same"), hour(3, "a", 7, "tingled")},
		"seq":   {hour(0, "c", 1, "same"), hour(0, "b", 2, "same"), hour(0, "a", 3, "tingled")},
		"id":    {hour(0, "a", 0, "same"), hour(0, "b", 0, "same"), hour(0, "c", 0, "tingled")},
		"none":  {hour(0, "c", 9, "same"), hour(0, "d", 10, "same"), hour(1, "a", 0, "tingled")},
	} {
		for _, from := range [][]int{{0, 1, 2}, {2, 1, 0}, {2, 0, 1}, {1, 2, 0}} {
			given := []progress.Entry{list[from[0]], list[from[1]], list[from[2]]}
			before := slices.Clone(given)
			if a := progress.Today(s, given, firstDay); a.Run != 0 || a.Level.Reps != 3 {
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

// A session that was read twice counts once, also where it is not the last.
func TestDuplicates(t *testing.T) {
	list := diary("1,2 same")
	a := progress.Today(prescriptions["work"], append(list, list...), firstDay.AddDays(2))
	if a.Level.Reps != 5 || a.Run != 2 {
		t.Errorf("two sessions, each twice: %+v, want R 5 and run 2", a)
	}
}

// Sessions entered from paper have a date and no time. Paced on the 1st and
// 3rd, on paper on the 9th: no gap is over 7 days, so nothing falls back.
func TestPaperSessionsStandOnTheirDay(t *testing.T) {
	s := &sessions.Session{Posture: sessions.PostureNone, Ease: sessions.DefaultEase, Progress: &sessions.Progress{RepsFrom: 5, Add: 1, After: 1}}
	s.Breath = sessions.Breath{Rate: 8, Ratio: sessions.Ratio{Inhale: 1, Exhale: 1}}
	s.Exercises = []sessions.Exercise{{Side: sessions.Right, Sets: 1, Reps: 10}}
	day := func(text string) sessions.Date {
		d, err := sessions.ParseDate(text)
		if err != nil {
			t.Fatal(err)
		}
		return d
	}
	paced := func(id, date string) progress.Entry {
		start, _ := time.Parse(time.DateOnly, date)
		return progress.Entry{ID: id, Start: start, Date: day(date), Prescription: s.Hash(), Outcome: "completed", Felt: sessions.NoStronger}
	}
	paper := progress.Entry{ID: "c", Seq: 1, Date: day("2026-11-09"), Prescription: s.Hash(), Outcome: "completed"}
	a := progress.Today(s, []progress.Entry{paper, paced("a", "2026-11-01"), paced("b", "2026-11-03")}, day("2026-11-12"))
	if a.Level.Reps != 7 || strings.Contains(a.Why, "gap") {
		t.Errorf("%d repetitions: %s; want 7, up from 6", a.Level.Reps, a.Why)
	}
}
