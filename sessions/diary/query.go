//go:build !js

package diary

import (
	"cmp"
	"encoding/json"
	"errors"
	"iter"
	"slices"
	"strings"
	"time"
)

// condition is part of a query, with its parameters.
type condition struct {
	text string
	args []any
}

func (f Filter) condition() condition {
	c := condition{text: "true"}
	add := func(is bool, text string, arg any) {
		if is {
			c.text += " AND " + text
			c.args = append(c.args, arg)
		}
	}
	add(f.Patient != "" || f.NoPatient, "patient = ?", f.Patient)
	add(f.Title != "", "title = ?", f.Title)
	add(f.From != "", "date >= ?", f.From)
	add(f.To != "", "date <= ?", f.To)
	return c
}

// List returns the sessions that the filter selects, the newest last, with what
// their events tell but without the events.
//
// Within a day, sessions of unknown time come first. A session whose date is
// unknown or wrong comes after the latest one that its diary recorded before it;
// if that is not known it comes before all days. Such sessions are in the order
// of their numbers. (Each diary that was merged had its own numbers.)
func (d *Diary) List(f Filter) ([]Session, error) { return collect(d.Each(f)) }

// Each returns the sessions of [Diary.List] one after another, of which only a
// few are in memory at once. After an error there are no more.
func (d *Diary) Each(f Filter) iter.Seq2[Session, error] { return d.each(f.condition(), false) }

// EachWithEvents is [Diary.Each] with the events.
func (d *Diary) EachWithEvents(f Filter) iter.Seq2[Session, error] {
	return d.each(f.condition(), true)
}

// ListIDs returns the sessions with these ids, as [Diary.List] does.
func (d *Diary) ListIDs(ids []string) ([]Session, error) {
	text, err := json.Marshal(ids)
	if err != nil {
		return nil, err
	}
	return collect(d.each(condition{"id IN (SELECT value FROM json_each(?))", []any{string(text)}}, false))
}

func collect(all iter.Seq2[Session, error]) (list []Session, err error) {
	for s, err := range all {
		if err != nil {
			return nil, err
		}
		list = append(list, s)
	}
	return list, nil
}

// atOnce is how many sessions are read in one query.
const atOnce = 1000

func (d *Diary) each(c condition, events bool) iter.Seq2[Session, error] {
	return func(yield func(Session, error) bool) {
		ids, err := d.inOrder(c)
		for part := range slices.Chunk(ids, atOnce) {
			var list []Session
			if list, err = d.read(part, events); err != nil {
				break
			}
			for _, s := range list {
				if !yield(s, nil) {
					return
				}
			}
		}
		if err != nil {
			yield(Session{}, err)
		}
	}
}

// inOrder returns the ids of the sessions that meet a condition, in the order of
// [Diary.List].
func (d *Diary) inOrder(c condition) ([]string, error) {
	type key struct {
		id, diary, moment string
		dated             bool
		place             int64
		number            int
	}
	var keys []key
	err := each(d.db, func(r *row) {
		var k key
		k.id, _ = r.next().(string)
		date, started := r.moment("date", time.DateOnly), r.moment("started", layout)
		k.diary, k.place = r.id("diary", false), r.between("place", 0, maxPlace)
		if k.dated = !date.IsZero(); k.dated {
			k.moment = date.Format(time.DateOnly)
		}
		if !started.IsZero() {
			k.moment += " " + started.Format(layout)
		}
		kind, _ := r.next().(string)
		detail, _ := r.next().(string)
		told := Session{}
		told.gather([]Event{{Kind: Kind(kind), Detail: detail}}, nil)
		if n := len(keys); n > 0 && keys[n-1].id == k.id {
			k = keys[n-1]
			keys = keys[:n-1]
		}
		k.number = max(k.number, told.Number)
		k.dated = k.dated && !told.WrongDay
		keys = append(keys, k)
	}, `SELECT id, date, started, diary, place, kind, detail FROM sessions
		LEFT JOIN events `+d.byWhere+` ON session = id AND `+saysWhere+` WHERE `+c.text, c.args...)
	if err != nil {
		return nil, d.explain(err)
	}
	slices.SortFunc(keys, func(a, b key) int { return cmp.Compare(a.place, b.place) })
	latest := make(map[string]string) // moment, by diary
	for i := range keys {
		k := &keys[i]
		if !k.dated && k.place > 0 {
			k.moment = latest[k.diary]
		}
		latest[k.diary] = max(k.moment, latest[k.diary])
	}
	slices.SortFunc(keys, func(a, b key) int {
		return cmp.Or(cmp.Compare(a.moment, b.moment), cmp.Compare(a.place, b.place), cmp.Compare(a.number, b.number), cmp.Compare(a.id, b.id))
	})
	ids := make([]string, len(keys))
	for i, k := range keys {
		ids[i] = k.id
	}
	return ids, nil
}

// read returns the sessions with these ids in their order, with what their events
// tell, and with the events if all of them are asked for.
func (d *Diary) read(ids []string, events bool) ([]Session, error) {
	list, said := make([]Session, len(ids)), make([][]Event, len(ids))
	at := make(map[string]int, len(ids)) // in these
	args := make([]any, len(ids))
	for i, id := range ids {
		at[id], args[i] = i, id
	}
	these := " IN (?" + strings.Repeat(",?", len(ids)-1) + ")"
	there := make([]bool, len(ids)) // not erased in between
	err := each(d.db, func(r *row) {
		id, _ := r.values[0].(string)
		if i, ok := at[id]; ok {
			list[i], there[i] = r.session(), true
		}
	}, "SELECT "+sessionColumns+" FROM sessions WHERE id"+these, args...)
	if err != nil {
		return nil, d.explain(err)
	}
	columns, where := eventColumns, " FROM events WHERE session"+these
	if !events {
		columns = gatheredColumns
		where += " AND " + d.gathered(true)
	}
	err = each(d.db, func(r *row) {
		id, e := r.event()
		if i, ok := at[id]; ok {
			said[i] = append(said[i], e)
			list[i].Unread = append(list[i].Unread, r.faults...)
		}
	}, "SELECT "+columns+where+" ORDER BY session, seq", args...)
	if err != nil {
		return nil, d.explain(err)
	}
	n := 0
	for i, s := range list {
		if there[i] {
			s.gather(said[i], nil)
			if events {
				s.Events = said[i]
			}
			list[n] = s
			n++
		}
	}
	return list[:n], nil
}

// gathered is a condition on events: a session is gathered from it. Those are all but the
// many repetitions and, if there are old stops, the repetitions just before one, for stopOf.
func (d *Diary) gathered(oldStops bool) string {
	if !oldStops {
		return "kind <> 'repetition'"
	}
	return `(kind <> 'repetition' OR (session, seq + 1) IN
		(SELECT session, seq FROM events ` + d.byOldStop + " WHERE " + oldStop + "))"
}

// ids returns the ids of the sessions that meet a condition.
func (d *Diary) ids(condition string, args ...any) ([]string, error) {
	var list []string
	err := each(d.db, func(r *row) {
		id, _ := r.next().(string)
		list = append(list, id)
	},
		"SELECT id FROM sessions WHERE "+condition+" ORDER BY id", args...)
	return list, d.explain(err)
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
	list, err := d.read([]string{id}, true)
	if err == nil && len(list) == 0 {
		err = &IDError{Given: id} // erased in between
	}
	if err != nil {
		return Session{}, err
	}
	s := list[0]
	if s.OtherVersions, s.OtherEvents, err = d.kept(s.ID); err != nil {
		return Session{}, d.explain(err)
	}
	return s, nil
}

// ErrNoSession says that the diary has no session, or none that was asked for.
var ErrNoSession = errors.New("no session was found in the diary")

// Last returns the last session of [Diary.List], with its events. The error for
// none is [ErrNoSession].
func (d *Diary) Last(f Filter) (Session, error) {
	ids, err := d.inOrder(f.condition())
	if err != nil {
		return Session{}, err
	}
	if len(ids) == 0 {
		return Session{}, ErrNoSession
	}
	return d.Show(ids[len(ids)-1])
}

// PatientCode returns the code as the diary has it, of a session or a loan, of one
// that may be written in any case. A code that is there as given is that one, even
// if another differs from it only in case. A code that is not there is returned as it
// was given, with found false.
func (d *Diary) PatientCode(given string) (code string, found bool, err error) {
	var codes []string
	err = each(d.db, func(r *row) {
		codes = append(codes, r.text("patient", maxText))
	}, `SELECT patient FROM sessions WHERE patient = ?1 COLLATE NOCASE
		UNION SELECT patient FROM loans WHERE patient = ?1 COLLATE NOCASE`, given)
	switch {
	case err != nil:
		return "", false, d.explain(err)
	case slices.Contains(codes, given):
		return given, true, nil
	case len(codes) > 1:
		return "", false, &PatientError{given, codes}
	case len(codes) == 1:
		return codes[0], true, nil
	}
	return given, false, nil
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

// resolve returns the one id that begins with given.
func (d *Diary) resolve(given string) (string, error) {
	fail := &IDError{Given: given}
	prefix := readID.Replace(strings.ToLower(given))
	if len(prefix) < idPrefix {
		return "", fail
	}
	ids, err := d.ids("id BETWEEN ? AND ? || char(0x10FFFF)", prefix, prefix)
	if err != nil {
		return "", err
	}
	if len(ids) != 1 {
		fail.Matches = ids
		return "", fail
	}
	return ids[0], nil
}
