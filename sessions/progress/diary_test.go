package progress_test

import (
	"fmt"
	"slices"
	"strconv"
	"strings"
	"time"

	"glidepace/sessions"
	"glidepace/sessions/progress"
)

// Prescriptions of the diaries below. Where nothing else is said: 10
// repetitions, {slower: 20%, floor: 6, fewer_reps: 2, settle_within: 2m} and
// {add: 1, after: 3, days: 2}.
var prescriptions = map[string]*sessions.Session{
	"work":    prescribe(10, 12, "progress: {reps_from: 5}"),
	"quick":   prescribe(10, 12, "progress: {reps_from: 3, add: 4, after: 1}"),
	"now":     prescribe(10, 12, "progress: {reps_from: 5, days: 0}"),
	"weekly":  prescribe(10, 12, "progress: {reps_from: 5, days: 7}"),
	"six":     prescribe(6, 12, "progress: {reps_from: 3}"),
	"fifteen": prescribe(15, 12, "progress: {reps_from: 5}"),
	"rate":    prescribe(10, 13, "progress: {reps_from: 5}"),
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
	"neck":   prescribe(10, 12, "  - {glide: median-neck, side: right, reps: 4}"),
	"neck5":  prescribe(10, 12, "  - {glide: median-neck, side: right, reps: 5}"),
	"twice":  prescribe(10, 12, "dose: {per_day: 2, days: 7, start: 2026-12-02, gap: 2h}"),
	"once":   prescribe(10, 12, "dose: {per_day: 1}"),
	"no gap": prescribe(10, 12, "dose: {per_day: 3, gap: 0s}"),
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

// date is a day of December 2026, or after it.
func date(day int) sessions.Date {
	d, err := sessions.ParseDate("2026-12-01")
	if err != nil {
		panic(err)
	}
	return d.AddDays(day - 1)
}

// rated is completed, with ratings written as "2/1>3/-": tingling/pain before
// and after.
func rated(text string) progress.Entry {
	var list [4]*int
	for i, s := range strings.FieldsFunc(text, func(r rune) bool { return r == '/' || r == '>' }) {
		if n, err := strconv.Atoi(s); err == nil {
			list[i] = &n
		}
	}
	return progress.Entry{Outcome: sessions.Completed,
		Before: sessions.Ratings{Tingling: list[0], Pain: list[1]}, After: sessions.Ratings{Tingling: list[2], Pain: list[3]}}
}

// with is completed and rated as no different, but for a change.
func with(change func(e *progress.Entry)) progress.Entry {
	e := rated("2/1>2/1")
	change(&e)
	return e
}

// ended was ended by symptoms, after one stop.
func ended(by sessions.Symptom, inSet, notInTime bool) progress.Entry {
	return progress.Entry{Outcome: sessions.Symptoms, EndedBy: by, NotInTime: notInTime, Stops: []progress.Stop{{Symptom: by, InSet: inSet}}}
}

// happened has a word for each kind of session.
var happened = map[string]progress.Entry{
	"same":     rated("2/1>2/1"),
	"better":   rated("2/1>0/0"),
	"up1":      rated("2/1>3/2"), // its settling was not timed
	"up1in2m":  with(func(e *progress.Entry) { e.After = rated(">3/1").Before; e.Settled = 2 * time.Minute }),
	"up1late":  with(func(e *progress.Entry) { e.After = rated(">3/1").Before; e.Settled = 2*time.Minute + time.Second }),
	"up1not":   with(func(e *progress.Entry) { e.After = rated(">3/1").Before; e.NotSettled = true }),
	"up2":      rated("2/1>4/1"),
	"box":      {Outcome: sessions.Completed, Felt: sessions.NoStronger},
	"boxup":    {Outcome: sessions.Completed, Felt: sessions.Stronger},
	"sameup":   with(func(e *progress.Entry) { e.Felt = sessions.Stronger }),
	"up2box":   with(func(e *progress.Entry) { e.After = rated(">4/1").Before; e.Felt = sessions.NoStronger }),
	"unrated":  {Outcome: sessions.Completed},
	"worse":    with(func(e *progress.Entry) { e.NextMorning = sessions.Worse }),
	"notworse": with(func(e *progress.Entry) { e.NextMorning = sessions.NotWorse }),
	"early":    with(func(e *progress.Entry) { e.Outcome = sessions.EndedEarly }),
	"cut":      {Outcome: sessions.Interrupted},

	// Stops in a set.
	"went-on": with(func(e *progress.Entry) { e.Stops = []progress.Stop{{Symptom: sessions.NotSaid, InSet: true}} }),
	"tingled": ended(sessions.Tingling, true, false),
	"pain":    ended(sessions.Pain, true, false),
	"unsaid":  ended(sessions.NotSaid, true, false),
	"no-stop": {Outcome: sessions.Symptoms}, // whatever became of its stops
	"two-stops": {Outcome: sessions.Symptoms, EndedBy: sessions.Breathing, Stops: []progress.Stop{
		{Symptom: sessions.NotSaid, InSet: true}, {Symptom: sessions.Breathing}}},
	// And outside.
	"out-on":    with(func(e *progress.Entry) { e.Stops = []progress.Stop{{Symptom: sessions.NotSaid}} }),
	"out":       ended(sessions.NotSaid, false, true), // nobody said anything
	"out-pain":  ended(sessions.Pain, false, false),
	"out-still": ended(sessions.Tingling, false, true),
	// The breath and the neck, wherever. What it was is asked at the end.
	"breath":      ended(sessions.Breathing, true, false),
	"breath-said": {Outcome: sessions.Symptoms, EndedBy: sessions.Breathing, Stops: []progress.Stop{{Symptom: sessions.NotSaid, InSet: true}}},
	"head":        ended(sessions.WarningSign, true, false),
	"clear":       with(func(e *progress.Entry) { e.Cleared = true }),
	"left":        {Outcome: sessions.EndedEarly},
}

// diary reads sessions written as "DAY,DAY… KIND", as they were recorded: the
// days of December 2026, 33 that of 2 January, 3..5 for 3,4,5; ? for one that
// is not known, 6? for one not before the 6th, 6p for one on paper. A kind is
// one of those above, or ratings.
//
// "use NAME" is the prescription from there on, which is stored with each, or
// "use-unstored NAME" where it is not. "in NAME" is the diary from there on, - for
// rows that do not tell.
func diary(text string) []progress.Entry {
	var list []progress.Entry
	name, stored, recorder := "work", true, "home"
	seq := map[string]int64{}
	fields := strings.Fields(text)
	for i := 0; i+1 < len(fields); i += 2 {
		switch fields[i] {
		case "use", "use-unstored":
			name, stored = fields[i+1], fields[i] == "use"
			continue
		case "in":
			recorder = fields[i+1]
			continue
		}
		kind, ok := happened[fields[i+1]]
		if !ok {
			kind = rated(fields[i+1])
		}
		for _, day := range days(fields[i]) {
			e := kind
			s := prescriptions[name]
			e.ID, e.Paced, e.Prescription = fmt.Sprintf("s%02d", len(list)), true, s.Hash()
			if recorder != "-" {
				seq[recorder]++
				e.Diary, e.Seq = recorder, seq[recorder]
			}
			if fields[i+1] != "left" {
				e.Repetitions = 10
			}
			if stored {
				e.Rules = new(progress.RulesOf(s))
			}
			e.Neck = slices.ContainsFunc(s.Exercises, func(e sessions.Exercise) bool { return e.Glide.Neck })
			if n, err := strconv.Atoi(strings.TrimRight(day, "?p")); err == nil {
				e.Start = time.Date(2026, 12, n, 18, len(list), 0, 0, time.UTC)
				e.Date = date(n)
			}
			switch day[len(day)-1] {
			case '?':
				e.Date = sessions.Date{}
			case 'p':
				e.Start, e.Paced, e.Number = time.Time{}, false, 1
			}
			list = append(list, e)
		}
	}
	return list
}

// days splits "1,3..5" into 1, 3, 4 and 5.
func days(text string) (list []string) {
	for part := range strings.SplitSeq(text, ",") {
		from, to, found := strings.Cut(part, "..")
		if !found {
			list = append(list, part)
			continue
		}
		first, _ := strconv.Atoi(from)
		last, _ := strconv.Atoi(to)
		for n := first; n <= last; n++ {
			list = append(list, strconv.Itoa(n))
		}
	}
	return list
}
