//go:build !js

package diary

import (
	"database/sql"
	"errors"
	"glidepace/sessions"
	"time"
)

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

// TodayIs notes that somebody said what day it is: sessions that this diary
// recorded on a later day had a clock that was wrong.
func (d *Diary) TodayIs(today sessions.Date, at time.Time) error {
	ids, err := d.ids("date > ? AND started IS NOT NULL AND "+recordedHere+" AND "+rightDay, today.String())
	for _, id := range ids {
		err = errors.Join(err, d.later(id, Event{}.With(correction{today.String()}), at))
	}
	return err
}

// Conditions: the program recorded the session in this diary, as far as is known; and nobody
// said that its day is wrong. (The plus keeps a query to the index of dates.)
const (
	recordedHere = "source IN ('" + Paced + "', '" + OnBox + "', '" + OnPage + "') AND +diary IN ('', (SELECT diary FROM self))"
	rightDay     = "NOT EXISTS (SELECT 1 FROM events WHERE session = id AND " + saysWhere + " AND kind = '" + string(WrongDay) + "')"
)
