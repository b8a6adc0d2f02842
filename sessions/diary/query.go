package diary

import (
	"cmp"
	"database/sql"
	"math"
	"slices"
	"time"
)

// Filter selects sessions. A field that is empty selects all.
type Filter struct {
	Patient, Title string
	From, To       string // local dates of the start, 2006-01-02, both included; sessions without a date are left out
}

// Key says which sessions count together: those of a patient code or, without a
// code, those of a title that have no code either.
type Key struct{ Patient, Title string }

// query returns what scan makes of each row.
func query[T any](d *Diary, scan func(*sql.Rows, *T) error, text string, args ...any) ([]T, error) {
	rows, err := d.db.Query(text, args...)
	if err != nil {
		return nil, d.explain(err)
	}
	defer rows.Close()
	var list []T
	for rows.Next() {
		var item T
		if err := scan(rows, &item); err != nil {
			return nil, d.explain(err)
		}
		list = append(list, item)
	}
	return list, d.explain(rows.Err())
}

const selectSessions = `SELECT id, title, patient, prescription, coalesce(date, ''),
	coalesce(started, ''), coalesce(ended, ''), offset_min, length_s,
	planned_sets, planned_reps, planned_breaths, done_sets, done_reps, done_breaths,
	rate_start, rate_end, "match", sound, outcome, source, extra, diary, place FROM sessions `

func scanSession(rows *sql.Rows, s *Session) error {
	var started, ended string
	var offset int
	var length float64
	err := rows.Scan(&s.ID, &s.Title, &s.Patient, &s.Prescription, &s.Date,
		&started, &ended, &offset, &length,
		&s.Planned.Sets, &s.Planned.Repetitions, &s.Planned.Breaths,
		&s.Done.Sets, &s.Done.Repetitions, &s.Done.Breaths,
		&s.RateStart, &s.RateEnd, &s.Match, &s.Sound, &s.Outcome, &s.Source, &s.Extra, &s.Diary, &s.Place)
	s.Started, s.Ended, s.Length = local(started, offset), local(ended, offset), seconds(length)
	return err
}

func scanEvent(rows *sql.Rows, e *Event) error {
	var at float64
	err := rows.Scan(&at, &e.Kind, &e.Exercise, &e.Side, &e.Set, &e.Rep,
		&e.Done.Sets, &e.Done.Repetitions, &e.Done.Breaths, &e.Detail)
	e.At = seconds(at)
	return err
}

// local returns a stored time in the local time of its session.
func local(stored string, offset int) time.Time {
	t, err := time.Parse(layout, stored)
	if err != nil {
		return time.Time{} // not known
	}
	return t.In(time.FixedZone("", offset*60))
}

func seconds(s float64) time.Duration { return time.Duration(math.Round(s * 1e9)) }

// chosen is the condition of a [Filter]; args returns its parameters.
const chosen = `(?1 = '' OR patient = ?1) AND (?2 = '' OR title = ?2)
	AND (?3 = '' OR date >= ?3) AND (?4 = '' OR date <= ?4)`

func (f Filter) args() []any { return []any{f.Patient, f.Title, f.From, f.To} }

// List returns the sessions that the filter selects, the newest last, with what
// their events tell but without the events.
//
// Within a day, sessions of unknown time come first. A session whose date is
// unknown or wrong comes after the latest one that its diary recorded before it;
// if that is not known it comes before all days. Such sessions are in the order
// of their numbers. (Each diary that was merged had its own numbers.)
func (d *Diary) List(f Filter) ([]Session, error) {
	list, err := query(d, scanSession, selectSessions+"WHERE "+chosen, f.args()...)
	if err != nil {
		return nil, err
	}
	type told struct {
		session string
		Event
	}
	all, err := query(d, func(rows *sql.Rows, t *told) error {
		return rows.Scan(&t.session, &t.Kind, &t.Exercise, &t.Side, &t.Set, &t.Rep, &t.Detail)
	}, "SELECT session, kind, exercise, side, set_no, rep, detail FROM events JOIN sessions ON id = session WHERE "+chosen+
		" AND "+gathered+" ORDER BY session, seq", f.args()...)
	if err != nil {
		return nil, err
	}
	events := make(map[string][]Event)
	for _, t := range all {
		events[t.session] = append(events[t.session], t.Event)
	}
	for i := range list {
		list[i].gather(events[list[i].ID])
	}
	inOrder(list)
	return list, nil
}

// gathered selects the events that [Session.gather] needs: the many repetitions only
// if they come just before a stop of format 1, for [stopOf].
const gathered = `(kind <> '` + string(Repetition) + `' OR (session, seq + 1) IN
	(SELECT session, seq FROM events WHERE kind = '` + string(Stopped) + `' AND detail = ''))`

// inOrder puts sessions in the order of [Diary.List].
func inOrder(list []Session) {
	slices.SortFunc(list, func(a, b Session) int { return cmp.Compare(a.Place, b.Place) })
	at := make(map[string]string)     // date and time, by session
	latest := make(map[string]string) // the same, by diary
	for _, s := range list {
		moment := s.Date
		switch {
		case (s.Date == "" || s.WrongDay) && s.Place > 0:
			moment = latest[s.Diary]
		case !s.Started.IsZero():
			moment += " " + s.Started.UTC().Format(layout)
		}
		at[s.ID] = moment
		latest[s.Diary] = max(moment, latest[s.Diary])
	}
	slices.SortFunc(list, func(a, b Session) int {
		return cmp.Or(cmp.Compare(at[a.ID], at[b.ID]), cmp.Compare(a.Place, b.Place), cmp.Compare(a.Number, b.Number), cmp.Compare(a.ID, b.ID))
	})
}

// Show returns a session with its events. The first four characters of its id
// are enough if no other session shares them; case does not matter, and o, i and
// l are read as the digits they look like. If none or several match, the error
// is an [*IDError].
func (d *Diary) Show(id string) (Session, error) {
	id, err := d.resolve(id)
	if err != nil {
		return Session{}, err
	}
	list, err := query(d, scanSession, selectSessions+"WHERE id = ?", id)
	if err != nil {
		return Session{}, err
	}
	if len(list) == 0 {
		return Session{}, &IDError{Given: id} // erased in between
	}
	s := list[0]
	s.Events, err = d.events(id)
	s.gather(s.Events)
	return s, err
}

func (d *Diary) events(id string) ([]Event, error) {
	return query(d, scanEvent, `SELECT at_s, kind, exercise, side, set_no, rep,
		done_sets, done_reps, done_breaths, detail FROM events WHERE session = ? ORDER BY seq`, id)
}

// ids returns the ids of the sessions that meet a condition.
func (d *Diary) ids(condition string, args ...any) ([]string, error) {
	return query(d, func(rows *sql.Rows, id *string) error { return rows.Scan(id) },
		"SELECT id FROM sessions WHERE "+condition+" ORDER BY id", args...)
}

// CountOn returns how many of a key's sessions count towards the dose of a local
// date, 2006-01-02: all that started on it with at least one repetition done,
// running ones and those beyond the dose included. A session that was left
// before its first repetition was done does not count, nor does one whose date
// is unknown or wrong.
func (d *Diary) CountOn(date string, k Key) (int, error) {
	list, err := d.ids("date = ? AND done_reps > 0 AND patient = ? AND (patient <> '' OR title = ?) AND "+rightDay, date, k.Patient, k.Title)
	return len(list), err
}
