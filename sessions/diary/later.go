//go:build !js

package diary

import (
	"database/sql"
	"fmt"
	"glidepace/sessions"
	"strings"
	"time"
)

// Note adds a note to a session, running or not, and returns the session. id is
// as in [Diary.Show]; at is zero if there is no clock.
func (d *Diary) Note(id, text string, at time.Time) (Session, error) {
	text = strings.TrimSpace(text)
	if err := CheckNote(text); err != nil {
		return Session{}, err
	}
	s, err := d.Show(id)
	if err != nil {
		return Session{}, err
	}
	if err := d.later(s.ID, Event{}.With(Note{text, at.Truncate(time.Second)}), at); err != nil {
		return Session{}, err
	}
	return d.Show(s.ID)
}

// NextMorning adds to a session whether symptoms were worse until the morning
// after it. id is as in [Diary.Show]; at is zero if there is no clock.
func (d *Diary) NextMorning(id string, answer sessions.NextMorning, at time.Time) error {
	if answer != sessions.Worse && answer != sessions.NotWorse {
		return fmt.Errorf("diary: %q says nothing of the next morning", answer)
	}
	id, err := d.resolve(id)
	if err != nil {
		return err
	}
	return d.later(id, Event{}.With(morning{answer, at.Truncate(time.Second)}), at)
}

// later commits an event that is said of a session from outside, even while the
// session runs. at is zero if not known.
func (d *Diary) later(id string, e Event, at time.Time) error {
	return d.atomically(func(tx *sql.Tx) error {
		var last int64
		if err := tx.QueryRow("SELECT max(seq) FROM events WHERE session = ?", id).Scan(&last); err != nil {
			return err
		}
		return insertEvent(tx, id, numberLater(at, last), e)
	})
}

// numberLater returns the number of an event that is said later, after one with the
// number last. It is made of the moment, zero if not known, and far above the numbers of
// the session itself, which may still write. So notes that were added to two copies of a
// diary do not clash either.
func numberLater(at time.Time, last int64) int64 { return max(at.UnixMilli(), firstLater, last+1) }
