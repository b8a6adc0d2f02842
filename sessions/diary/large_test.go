package diary

import (
	"fmt"
	"io"
	"iter"
	"path/filepath"
	"testing"
	"time"

	"glidepace/sessions"
)

// fill adds sessions of so many patients, P-0 and so on, to a diary: two a
// day each from 1900 on, with ten repetitions and ratings.
func fill(tb testing.TB, d *Diary, sessions, patients int) {
	tb.Helper()
	const plan = `{"level":{"reps":10,"rate":1},"rules":{"goal":10,"reps_from":6,"add":2,"after":3,"days":2,"fewer_reps":2,"slower":0.1,"settle_within_ns":120000000000}}`
	must(d.db.Exec(fmt.Sprintf(`BEGIN;
		CREATE TEMP TABLE new AS WITH RECURSIVE n(i) AS (SELECT 0 UNION ALL SELECT i + 1 FROM n WHERE i + 1 < %d)
			SELECT substr('abcdefghjkmnpqrstvwxyz', 1 + i %% 22, 1) || printf('%%09d', i) AS id, i, 'P-' || (i %% %[2]d) AS patient,
				datetime('1900-01-01 07:30', (i / %[2]d / 2) || ' days', (i / %[2]d %% 2 * 9) || ' hours') AS at FROM n;
		INSERT INTO sessions SELECT id, 'First week', patient, '5f1c', replace(at, ' ', 'T') || '.000Z', 60, date(at), replace(at, ' ', 'T') || '.000Z',
			100, 1, 10, 11, 1, 10, 11, 12, 8, 'exhale-on-glide', 'off', 'completed', '', 'paced', 0, (SELECT diary FROM self), i + 1 FROM new;
		INSERT INTO events SELECT id, 0, 0, 'started', 0, '', 0, 0, 0, 0, 0, '%[3]s' FROM new;
		INSERT INTO events SELECT id, 1, 0, 'rating', 0, '', 0, 0, 0, 0, 0, '{"when":"before","tingling":2,"pain":0}' FROM new;
		WITH RECURSIVE n(rep) AS (SELECT 1 UNION ALL SELECT rep + 1 FROM n WHERE rep < 10)
			INSERT INTO events SELECT id, 1 + rep, 10 * rep, 'repetition', 1, 'right', 1, rep, 0, rep, rep + 1, '' FROM new, n;
		INSERT INTO events SELECT id, 12, 100, 'ended', 0, '', 0, 0, 1, 10, 11, 'completed' FROM new;
		INSERT INTO events SELECT id, 13, 130, 'rating', 0, '', 0, 0, 0, 0, 0, '{"when":"after","tingling":2,"pain":0}' FROM new;
		DROP TABLE new; COMMIT`, sessions, patients, plan)))
}

// What a large diary costs: to be listed, to be added up, to be exported, to be asked for one
// patient at the start of a session, and to have a card with all of it merged.
func BenchmarkLargeDiary(b *testing.B) {
	const all = 200_000
	for _, patients := range []int{400, 1} {
		path := filepath.Join(b.TempDir(), "diary.db")
		d := must(Options{Card: true}.Open(path))
		fill(b, d, all, patients)
		check(d.Close())
		read := func(want int, list iter.Seq2[Session, error]) {
			n := 0
			for _, err := range list {
				check(err)
				n++
			}
			if n != want {
				b.Fatalf("%d sessions, want %d", n, want)
			}
		}
		for name, do := range map[string]func(d *Diary){
			"list":   func(d *Diary) { read(all, d.Each(Filter{})) },
			"sums":   func(d *Diary) { read(all, d.Unordered(Filter{})) },
			"export": func(d *Diary) { check(ExportJSON(io.Discard, d.EachWithEvents(Filter{}))) },
			"start": func(d *Diary) {
				must(d.ClockBehind(sessions.DateOf(time.Now())))
				must(d.CountOn("2026-12-01", Key{Patient: "P-0"}))
				read(all/patients, d.Each(Filter{Patient: "P-0"}))
			},
		} {
			b.Run(fmt.Sprintf("%d/%s", patients, name), func(b *testing.B) {
				b.ReportAllocs()
				for b.Loop() {
					d := must(Open(path))
					do(d)
					check(d.Close())
				}
			})
		}
		b.Run(fmt.Sprintf("%d/merge", patients), func(b *testing.B) {
			for b.Loop() {
				clinic := must(Open(filepath.Join(b.TempDir(), "clinic.db")))
				must(clinic.Merge(path))
				check(clinic.Close())
			}
		})
	}
}

// BenchmarkMergeMany merges a hundred diaries of 200 sessions each into a new one.
func BenchmarkMergeMany(b *testing.B) {
	var others []string
	for n := range 100 {
		path := filepath.Join(b.TempDir(), "diary.db")
		d := must(Open(path))
		fill(b, d, 200, 1)
		must(d.db.Exec(fmt.Sprintf(`PRAGMA foreign_keys = OFF;
			UPDATE sessions SET id = substr(id, 1, 1) || '%03d' || substr(id, 5);
			UPDATE events SET session = substr(session, 1, 1) || '%03[1]d' || substr(session, 5)`, n)))
		check(d.Close())
		others = append(others, path)
	}
	for b.Loop() {
		d := must(Open(filepath.Join(b.TempDir(), "clinic.db")))
		for _, path := range others {
			if j := must(d.MergeVersions(path)); j.Added != 200 {
				b.Fatalf("%+v", j)
			}
		}
		check(d.Close())
	}
}
