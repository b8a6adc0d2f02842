package diary

import (
	"database/sql"
	"errors"
	"fmt"
	"time"

	"glidepace/sessions"
)

// Boot says what is known of the start of a session on a machine without a
// clock, or with one that is wrong. Such a session has no date and no times of
// day, only a length, and a [Session.Number] that keeps it in order.
type Boot struct {
	ID        string    `json:"id"`                  // of the machine's start, as the system gives it: on Linux /proc/sys/kernel/random/boot_id; "" if not known
	Since     float64   `json:"since_s"`             // seconds from the machine's start to the session's, monotonic
	NotBefore time.Time `json:"not_before,omitzero"` // the session was later than this, such as when the box was lent; zero if not known
	Clock     time.Time `json:"clock,omitzero"`      // what the clock said that is wrong
}

// words returns text such as "boot 3f2a91c0, 0:12:03 after power-on".
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

// setNumber sets which of the diary's sessions with a Boot this one is.
func (s *Session) setNumber(tx *sql.Tx) error {
	return tx.QueryRow(`SELECT 1 + coalesce(max(iif(json_valid(detail), CAST(detail ->> 'n' AS INTEGER), 0)), 0)
		FROM events WHERE `+saysWhere+` AND kind = ? AND session <> ?`, Undated, s.ID).Scan(&s.Number)
}

// ClockBehind returns the start of the latest session that this diary recorded
// on a later day than today; zero if there is none. If there is one, either
// today's clock is wrong, and a session that begins now gets a [Boot] with what
// the clock says and with that start as NotBefore. Or the clock was wrong then:
// see [Diary.TodayIs].
func (d *Diary) ClockBehind(today sessions.Date) (last time.Time, err error) {
	err = each(d.db, func(r *row) { last = r.moment("started", layout).In(r.zone()) }, `SELECT started, offset_min FROM sessions
		WHERE date > ? AND started IS NOT NULL AND `+recordedHere+` AND `+rightDay+` ORDER BY started DESC LIMIT 1`, today.String())
	return last, d.explain(err)
}

// Conditions: the program recorded the session in this diary, as far as is known; and nobody
// said that its day is wrong. (The plus keeps a query to the index of dates.)
const (
	recordedHere = "source IN ('" + Paced + "', '" + OnBox + "') AND +diary IN ('', (SELECT diary FROM self))"
	rightDay     = "NOT EXISTS (SELECT 1 FROM events WHERE session = id AND " + saysWhere + " AND kind = '" + string(WrongDay) + "')"
)

// TodayIs notes that somebody said what day it is: sessions that this diary
// recorded on a later day had a clock that was wrong.
func (d *Diary) TodayIs(today sessions.Date, at time.Time) error {
	ids, err := d.ids("date > ? AND started IS NOT NULL AND "+recordedHere+" AND "+rightDay, today.String())
	for _, id := range ids {
		err = errors.Join(err, d.later(id, Event{}.With(correction{today.String()}), at))
	}
	return err
}
