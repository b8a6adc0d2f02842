//go:build !js

package diary

import (
	"database/sql"
	"errors"
	"time"

	"github.com/gofrs/flock"
)

// Running is a session that has begun and not ended, for one goroutine at a
// time. Live sessions use a [Recorder], which never keeps them waiting.
type Running struct {
	d    *Diary
	id   string
	lock *flock.Flock // nil when given up
	seq  int          // of the next event
}

// layout of times in the tables; as text they sort by time
const layout = "2006-01-02T15:04:05.000Z"

// stamp is a time as it is stored; nil if not known.
func stamp(t time.Time) any {
	if t.IsZero() {
		return nil
	}
	return t.UTC().Format(layout)
}

// Begin commits a new session with its Plan, Boot, Before and Cleared, as far as
// they are given. It sets the session's ID and Source if they are empty, its
// Date, Diary and Place, and with a Boot its Number. It takes nothing of what is
// done, how the session ended and what else events tell.
//
// The lock comes first, so that no other program can see the session and think
// that it was cut off.
func (d *Diary) Begin(s *Session) (*Running, error) {
	s.complete()
	lock, err := d.hold(s.ID)
	if err != nil {
		return nil, err
	}
	err = d.atomically(func(tx *sql.Tx) error {
		if s.Boot != nil {
			if err := s.setNumber(tx); err != nil {
				return err
			}
		}
		err := tx.QueryRow(`SELECT diary, (SELECT coalesce(max(place), 0) + 1 FROM sessions WHERE diary = self.diary AND id <> ?)
			FROM self`, s.ID).Scan(&s.Diary, &s.Place)
		if err != nil {
			return err
		}
		// No conflict but with itself: a first try that failed and yet was written.
		if _, err = insertSession(tx, s, s.opening()); err != nil {
			return err
		}
		return d.gone()
	})
	if err != nil {
		release(lock)
		return nil, err
	}
	return &Running{d, s.ID, lock, len(s.opening())}, nil
}

// insertSession writes a session that has not ended, with its first events. It
// leaves a session that is there already as it is: then added is false.
func insertSession(tx *sql.Tx, s *Session, events []Event) (added bool, err error) {
	_, offset := s.Started.Zone()
	result, err := tx.Exec(`INSERT INTO sessions
		(id, title, patient, prescription, started, offset_min, date,
		planned_sets, planned_reps, planned_breaths,
		rate_start, rate_end, "match", sound, source, extra, diary, place)
		VALUES (?, ?, ?, ?, ?, ?, nullif(?, ''), ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?) ON CONFLICT DO NOTHING`,
		s.ID, s.Title, s.Patient, s.Prescription, stamp(s.Started), offset/60, s.Date,
		s.Planned.Sets, s.Planned.Repetitions, s.Planned.Breaths,
		s.RateStart, s.RateEnd, s.Match, s.Sound, s.Source, s.Extra, s.Diary, s.Place)
	if err != nil {
		return false, err
	}
	if n, err := result.RowsAffected(); n == 0 || err != nil {
		return false, err
	}
	for seq, e := range events {
		if err := insertEvent(tx, s.ID, int64(seq), e); err != nil {
			return false, err
		}
	}
	return true, nil
}

// setEnd writes how far a session came that was inserted, and how it ended.
func (s *Session) setEnd(tx *sql.Tx) error {
	_, err := tx.Exec("UPDATE sessions SET ended = ?, length_s = ?, outcome = ?, done_sets = ?, done_reps = ?, done_breaths = ? WHERE id = ?",
		stamp(s.Ended), s.Length.Seconds(), s.Outcome, s.Done.Sets, s.Done.Repetitions, s.Done.Breaths, s.ID)
	return err
}

func insertEvent(tx *sql.Tx, id string, seq int64, e Event) error {
	_, err := tx.Exec(`INSERT INTO events VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?) ON CONFLICT DO NOTHING`,
		id, seq, e.At.Seconds(), e.Kind, e.Exercise, e.Side, e.Set, e.Rep,
		e.Done.Sets, e.Done.Repetitions, e.Done.Breaths, e.Detail)
	return err
}

// Event commits one event, which updates the session's length and totals until
// the session has ended. Then an answer may correct the outcome. After an error
// Event may be called again.
func (r *Running) Event(e Event) error {
	if was, is := e.corrects(); was != "" && r.lock == nil {
		return r.write(e, "UPDATE sessions SET outcome = ? WHERE id = ? AND outcome = ?", is, r.id, was)
	}
	return r.write(e, `UPDATE sessions SET length_s = max(length_s, ?), done_sets = max(done_sets, ?),
		done_reps = max(done_reps, ?), done_breaths = max(done_breaths, ?) WHERE id = ? AND outcome = ''`,
		e.At.Seconds(), e.Done.Sets, e.Done.Repetitions, e.Done.Breaths, r.id)
}

// End commits the end of the session, with an [Ended] event, and gives up its
// lock. After an error End may be called again.
func (r *Running) End(e Ending) error {
	if e.Outcome == "" {
		return errors.New("diary: a session cannot end without an outcome")
	}
	err := r.write(e.event(), `UPDATE sessions SET ended = iif(started IS NULL, NULL, ?), length_s = ?, outcome = ?,
		done_sets = ?, done_reps = ?, done_breaths = ? WHERE id = ?`,
		stamp(e.When), e.At.Seconds(), e.Outcome,
		e.Done.Sets, e.Done.Repetitions, e.Done.Breaths, r.id)
	if err != nil {
		return err
	}
	r.Leave()
	return nil
}

// write commits an event and what it changes in the session's row.
func (r *Running) write(e Event, update string, args ...any) error {
	err := r.d.atomically(func(tx *sql.Tx) error {
		if err := insertEvent(tx, r.id, int64(r.seq), e); err != nil {
			return err
		}
		if _, err := tx.Exec(update, args...); err != nil {
			return err
		}
		return r.d.gone()
	})
	if err == nil {
		r.seq++
	}
	return err
}

// Leave gives up the session's lock. A session left before its end reads
// [sessions.Interrupted] when the diary is opened the next time.
func (r *Running) Leave() {
	if r.lock != nil {
		release(r.lock)
		r.lock = nil
	}
}
