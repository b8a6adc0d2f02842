package review

import (
	"os/exec"
	"path/filepath"
	"strconv"
	"testing"

	"glidepace/sessions"
	"glidepace/sessions/diary"
	"glidepace/sessions/diary/diarytest"
)

// sums adds up a diary by SQL, as far as SQL does: sessions, completed ones, repetitions,
// stops, and the ratings of each patient and week.
const sums = `SELECT patient, strftime('%Y-%W', date) AS week, count(*), sum(outcome = 'completed'), sum(done_reps) FROM sessions GROUP BY 1, 2;
	SELECT patient, strftime('%Y-%W', date) AS week, sum(kind = 'stopped'), avg(CASE WHEN kind = 'rating' THEN detail ->> 'tingling' END),
		avg(CASE WHEN kind = 'rating' THEN detail ->> 'pain' END), avg(CASE WHEN kind = 'settled' THEN detail ->> 'after_s' END)
		FROM sessions JOIN events ON session = id WHERE kind IN ('stopped', 'rating', 'settled') GROUP BY 1, 2;`

// What it takes to review the diary of a clinic, beside sums of the same diary by the
// program sqlite3, which must be installed.
func BenchmarkReview(b *testing.B) {
	today, _ := sessions.ParseDate("2026-11-28")
	for _, n := range []int{100_000, 1_000_000} {
		b.Run(strconv.Itoa(n), func(b *testing.B) {
			path := filepath.Join(b.TempDir(), "diary.db")
			diarytest.Write(b, path, diarytest.Clinic{Seed: 1, Sessions: n, Until: today}.All())
			b.Run("review", func(b *testing.B) {
				for b.Loop() {
					d, err := diary.OpenExisting(path)
					if err != nil {
						b.Fatal(err)
					}
					courses, err := Courses(Read(d, diary.Filter{}), Options{Today: today})
					if err != nil || len(courses) == 0 {
						b.Fatal(len(courses), err)
					}
					for i := range courses {
						courses[i].AddTrends()
					}
					d.Close()
				}
			})
			b.Run("sqlite3", func(b *testing.B) {
				for b.Loop() {
					if out, err := exec.Command("sqlite3", path, sums).Output(); err != nil || len(out) == 0 {
						b.Fatal(len(out), err)
					}
				}
			})
		})
	}
}
