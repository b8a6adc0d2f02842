package diarytest

import (
	"database/sql"
	"iter"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"glidepace/sessions/diary"
)

// Write makes a diary at path, or adds to the one that is there.
func Write(tb testing.TB, path string, all iter.Seq[diary.Session]) {
	tb.Helper()
	if err := write(path, all); err != nil {
		tb.Fatal(err)
	}
}

const (
	sessionRow = "(?,?,?,?,?,?,nullif(?,''),?,?,?,?,?,?,?,?,?,?,?,?,?,'',?,?,?,?)"
	eventRow   = "(?,?,?,?,?,?,?,?,?,?,?,?)"
	atOnce     = 50 // rows a statement: one row each would take much longer
)

// write writes all in one transaction, and so much faster than a diary does.
func write(path string, all iter.Seq[diary.Session]) error {
	d, err := diary.Open(path)
	if err != nil {
		return err
	}
	if err := d.Close(); err != nil {
		return err
	}
	db, err := sql.Open("sqlite", "file:"+filepath.ToSlash(path)+"?_pragma=synchronous(OFF)&_pragma=cache_size(-400000)")
	if err != nil {
		return err
	}
	defer db.Close()
	tx, err := db.Begin()
	if err != nil {
		return err
	}
	defer tx.Rollback()
	sessions := &table{tx: tx, insert: `INSERT INTO sessions (id, title, patient, prescription, started, offset_min, date, ended, length_s,
		planned_sets, planned_reps, planned_breaths, done_sets, done_reps, done_breaths, rate_start, rate_end, "match", sound, outcome, reason,
		source, extra, diary, place) VALUES `, row: sessionRow}
	events := &table{tx: tx, insert: "INSERT INTO events VALUES ", row: eventRow}
	for s := range all {
		sessions.add(s.ID, s.Title, s.Patient, s.Prescription, stamp(s.Started), offset/60, s.Date, stamp(s.Ended), s.Length.Seconds(),
			s.Planned.Sets, s.Planned.Repetitions, s.Planned.Breaths, s.Done.Sets, s.Done.Repetitions, s.Done.Breaths,
			s.RateStart, s.RateEnd, s.Match, s.Sound, string(s.Outcome), s.Source, s.Extra, s.Diary, s.Place)
		for i, e := range s.Events {
			seq := int64(i)
			if e.Kind == diary.Morning || e.Kind == diary.Noted {
				seq += firstLater
			}
			events.add(s.ID, seq, e.At.Seconds(), string(e.Kind), e.Exercise, e.Side, e.Set, e.Rep, e.Done.Sets, e.Done.Repetitions, e.Done.Breaths, e.Detail)
		}
	}
	sessions.flush()
	events.flush()
	if sessions.err != nil {
		return sessions.err
	}
	if events.err != nil {
		return events.err
	}
	return tx.Commit()
}

func stamp(t time.Time) any {
	if t.IsZero() {
		return nil
	}
	return t.UTC().Format("2006-01-02T15:04:05.000Z")
}

// table inserts rows, several at once.
type table struct {
	tx          *sql.Tx
	insert, row string
	statement   *sql.Stmt // of so many rows at once
	values      []any
	rows        int
	err         error
}

func (t *table) add(values ...any) {
	t.values = append(t.values, values...)
	if t.rows++; t.rows == atOnce {
		t.flush()
	}
}

func (t *table) flush() {
	text := t.insert + strings.TrimSuffix(strings.Repeat(t.row+",", t.rows), ",")
	switch {
	case t.err != nil || t.rows == 0:
	case t.rows < atOnce:
		_, t.err = t.tx.Exec(text, t.values...)
	default:
		if t.statement == nil {
			t.statement, t.err = t.tx.Prepare(text)
		}
		if t.err == nil {
			_, t.err = t.statement.Exec(t.values...)
		}
	}
	t.values, t.rows = t.values[:0], 0
}
