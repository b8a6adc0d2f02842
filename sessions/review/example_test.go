package review_test

import (
	"fmt"
	"time"

	"glidepace/sessions"
	"glidepace/sessions/history"
	"glidepace/sessions/review"
)

// Two sessions a day for a week; one evening was left out.
func ExampleCourses() {
	list := func(yield func(review.Session, error) bool) {
		for n := range 14 {
			start := time.Date(2026, 12, 1+n/2, 8+10*(n%2), 0, 0, 0, time.UTC)
			s := review.Session{
				ID: fmt.Sprint(n), Patient: "DEMO-1", Date: sessions.DateOf(start), Start: start, Source: review.Live,
				Outcome: sessions.Completed, Done: 10, Planned: 10, Dose: &history.Dose{PerDayMin: 2, PerDayMax: 2},
			}
			if n != 5 && !yield(s, nil) {
				return
			}
		}
	}
	courses, err := review.Courses(list, review.Options{Today: sessions.DateOf(time.Date(2026, 12, 8, 9, 0, 0, 0, time.UTC))})
	if err != nil {
		fmt.Println(err)
		return
	}
	fmt.Println(courses[0].Spoken())
	// Output: since 1 December: 13 of 14 sessions, no stop
}
