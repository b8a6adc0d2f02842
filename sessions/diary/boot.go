package diary

import (
	"database/sql"
	"errors"
	"fmt"
	"time"

	"glidepace/sessions"
)

// Boot says when a session started on a machine that does not know the date,
// or whose clock is wrong.
type Boot struct {
	ID    string  `json:"id"`      // of the machine's start, as the system gives it: on Linux /proc/sys/kernel/random/boot_id; "" where it is not known
	Since float64 `json:"since_s"` // seconds from it to the session's start, monotonic
	// NotBefore is a moment before which the session cannot have been, such as
	// when the box was lent; zero where there is none.
	NotBefore time.Time `json:"not_before,omitzero"`
	Clock     time.Time `json:"clock,omitzero"` // what a clock said that is wrong
}

// words is such as "boot 3f2a91c0, 0:12:03 after power-on".
func (b Boot) words() string {
	s := int(seconds(b.Since).Round(time.Second).Seconds())
	text := fmt.Sprintf("boot %.8s, %d:%02d:%02d after power-on", b.ID, s/3600, s/60%60, s%60)
	if !b.Clock.IsZero() {
		text = "the clock was wrong, at " + b.Clock.Format("2006-01-02 15:04")
	}
	if !b.NotBefore.IsZero() {
		text += ", not before " + b.NotBefore.Format("2006-01-02 15:04")
	}
	return text
}

// undated is the detail of an [Undated] event.
type undated struct {
	Number int `json:"n"`
	Boot
}

// count sets which of the diary's sessions without a clock this one is.
func (s *Session) count(tx *sql.Tx) error {
	rows, err := tx.Query("SELECT detail FROM events WHERE kind = ? AND session <> ?", Undated, s.ID)
	if err != nil {
		return err
	}
	defer rows.Close()
	s.Number = 1
	for rows.Next() {
		var e Event
		if err := rows.Scan(&e.Detail); err != nil {
			return err
		}
		u, _ := detail[undated](e)
		s.Number = max(s.Number, u.Number+1)
	}
	return rows.Err()
}

// ClockBehind returns the start of the latest session that this diary recorded
// on a later day than today, zero where there is none. Where there is one the
// clock is wrong, and a session that begins now has a [Boot]: with what the
// clock says, and not before that start. Or the clock was wrong then: see
// [Diary.TodayIs].
func (d *Diary) ClockBehind(today sessions.Date) (last time.Time, err error) {
	list, err := query(d, scanSession, selectSessions+`WHERE date > ? AND started IS NOT NULL AND source = ?
		AND `+recordedHere+` AND `+rightDay+` ORDER BY started DESC LIMIT 1`, today.String(), Paced)
	if len(list) > 0 {
		last = list[0].Started
	}
	return last, err
}

// What holds for sessions that this diary recorded, as far as it knows, and for
// those whose day nobody said is wrong.
const (
	recordedHere = "diary IN ('', (SELECT diary FROM self))"
	rightDay     = "NOT EXISTS (SELECT 1 FROM events WHERE session = id AND kind = '" + string(WrongDay) + "')"
)

// TodayIs keeps that somebody said what day it is: what this diary recorded on a
// later day was done by a clock that was wrong.
func (d *Diary) TodayIs(today sessions.Date, at time.Time) error {
	ids, err := d.ids("date > ? AND started IS NOT NULL AND source = ? AND "+recordedHere+" AND "+rightDay, today.String(), Paced)
	for _, id := range ids {
		err = errors.Join(err, d.later(id, Event{}.With(correction{today.String()}), at))
	}
	return err
}
