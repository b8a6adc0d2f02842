package progress_test

import (
	"fmt"
	"strings"
	"time"

	"glidepace/sessions"
	"glidepace/sessions/progress"
)

// A patient begins with 5 repetitions of 10. Three comfortable sessions make
// it one more, two days after the last change at the earliest; tingling makes
// it fewer, and slower.
func ExampleToday() {
	s, err := sessions.Parse("first-week.yaml", strings.NewReader(`glidepace: 1
title: First week, right hand
breath: {rate: 8, ratio: "1:1.5"}
exercises:
  - {glide: median-wrist, side: right, reps: 10}
progress: {reps_from: 5, add: 1, after: 3}
`))
	if err != nil {
		fmt.Println(err)
		return
	}
	at := time.Date(2026, 12, 1, 18, 0, 0, 0, time.Local)
	var diary []progress.Entry
	tell := func() {
		a := progress.Today(s, diary, sessions.DateOf(at))
		fmt.Printf("%s: %s\n", at.Format("2 Jan"), a.Why)
	}
	done := func(e progress.Entry) {
		e.ID, e.Start, e.Date = fmt.Sprint("session ", len(diary)), at, sessions.DateOf(at)
		e.Prescription, e.Rules = s.Hash(), new(progress.RulesOf(s))
		diary = append(diary, e)
		at = at.AddDate(0, 0, 1)
	}

	rated := sessions.Ratings{Tingling: new(2), Pain: new(0)}
	comfortable := progress.Entry{Outcome: "completed", Before: rated, After: rated}
	tell()
	for range 4 {
		done(comfortable)
	}
	tell()
	done(progress.Entry{Outcome: "completed", Before: rated, After: rated, Stops: []progress.Stop{{Symptom: sessions.Tingling, InSet: true}}})
	tell()
	// Output:
	// 1 Dec: 5 of 10 repetitions today, to begin with: three comfortable sessions in a row, the last on 2026-12-03 or later, and it is 6.
	// 5 Dec: 6 of 10 repetitions today, up from 5: two more comfortable sessions and it is 7.
	// 6 Dec: 4 of 10 repetitions today and 6.4 breaths a minute instead of 8, after tingling on 2026-12-05: three comfortable sessions in a row, the last on 2026-12-07 or later, and it is 8 breaths a minute.
}
