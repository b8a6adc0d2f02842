//go:build !js

package diary

import (
	"fmt"
	"slices"
	"strings"
	"time"
	"unicode/utf8"

	"glidepace/sessions"
)

// row is a row of a table, whose values are read in the order of its columns. A
// value that cannot be read is taken as not known, or as what is left of a text;
// then faults says what is wrong with it.
type row struct {
	values []any
	seq    any // of an event, else nil
	faults []string
}

func (r *row) next() any {
	v := r.values[0]
	r.values = r.values[1:]
	return v
}

func (r *row) fault(column string, value any, allowed string) {
	if b, ok := value.([]byte); ok {
		value = string(b)
	}
	shown := fmt.Sprint(value)
	if text, ok := value.(string); ok {
		shown = fmt.Sprintf("%.40q", text)
	}
	if r.seq != nil {
		column = fmt.Sprintf("event %v, %s", r.seq, column)
	}
	r.faults = append(r.faults, fmt.Sprintf("%s: %s; allowed is %s", column, shown, allowed))
}

func (r *row) between(column string, least, most int64) int64 {
	v := r.next()
	n, ok := v.(int64)
	if !ok || n < least || n > most {
		r.fault(column, v, fmt.Sprintf("%d to %d", least, most))
		return 0
	}
	return n
}

func (r *row) count(column string) int { return int(r.between(column, 0, maxCount)) }

func (r *row) real(column string, most float64) float64 {
	v := r.next()
	f, ok := v.(float64)
	if !ok || !(f >= 0 && f <= most) {
		r.fault(column, v, fmt.Sprintf("0 to %.0f", most))
		return 0
	}
	return f
}

// text reads text of up to so many characters. Of one that cannot be read it
// returns what can be.
func (r *row) text(column string, most int) string {
	v := r.next()
	s, ok := v.(string)
	if ok && len(s) <= most && utf8.ValidString(s) && strings.IndexByte(s, 0) < 0 {
		return s
	}
	if b, blob := v.([]byte); blob {
		s = string(b)
	}
	clean := []rune(strings.ReplaceAll(strings.ToValidUTF8(s, "\uFFFD"), "\x00", "\uFFFD"))
	if !ok || string(clean) != s || len(clean) > most {
		r.fault(column, v, fmt.Sprintf("text in UTF-8 of up to %d characters", most))
	}
	return string(clean[:min(len(clean), most)])
}

// form reads a short text that is to have a form.
func (r *row) form(column, allowed string, fits func(string) bool) string {
	v, had := r.values[0], len(r.faults)
	s := r.text(column, maxWord)
	if len(r.faults) == had && !fits(s) {
		r.fault(column, v, allowed)
	}
	return s
}

// outcomes has the words for how a session ended.
var outcomes = []string{"", string(sessions.Completed), string(sessions.EndedEarly), string(sessions.Symptoms), string(sessions.Interrupted)}

var anOutcome = fmt.Sprintf("one of %q", outcomes)

// word reads a word that a later version may have added to.
func (r *row) word(column string) string {
	return r.form(column, "a word of small letters, digits and hyphens", func(s string) bool {
		for _, c := range []byte(s) {
			if (c < 'a' || c > 'z') && (c < '0' || c > '9') && c != '-' {
				return false
			}
		}
		return true
	})
}

func (r *row) flag(column string) bool { return r.between(column, 0, 1) == 1 }

// id reads an id, "" if it is not known and need not be.
func (r *row) id(column string, known bool) string {
	return r.form(column, "ten small letters and digits", func(s string) bool { return s == "" && !known || validID(s) })
}

// moment reads a time of that layout, zero if it is not known.
func (r *row) moment(column, layout string) (t time.Time) {
	v := r.next()
	if v == nil {
		return t
	}
	s, _ := v.(string)
	t, err := time.Parse(layout, s)
	var again [32]byte
	if err != nil || string(t.AppendFormat(again[:0], layout)) != s {
		r.fault(column, v, "a time like "+layout)
		return time.Time{}
	}
	return t
}

// zone reads how far the local time of a session was from UTC.
func (r *row) zone() *time.Location {
	return time.FixedZone("", int(r.between("offset_min", -maxOffset, maxOffset))*60)
}

func (r *row) amount(sets, repetitions, breaths string) Amount {
	return Amount{r.count(sets), r.count(repetitions), r.count(breaths)}
}

// The columns of a session, as session reads them.
const sessionColumns = `id, title, patient, prescription, offset_min, date, started, ended, length_s,
	planned_sets, planned_reps, planned_breaths, done_sets, done_reps, done_breaths,
	rate_start, rate_end, "match", sound, outcome, reason, source, extra, diary, place`

func (r *row) session() (s Session) {
	s.ID, s.Title, s.Patient = r.id("id", true), r.text("title", maxText), r.text("patient", maxText)
	s.Prescription = r.text("prescription", maxText)
	zone := r.zone()
	if date := r.values[0]; !r.moment("date", time.DateOnly).IsZero() {
		s.Date = date.(string)
	}
	s.Started, s.Ended = inZone(r.moment("started", layout), zone), inZone(r.moment("ended", layout), zone)
	s.Length = seconds(r.real("length_s", maxSeconds))
	s.Planned, s.Done = r.amount("planned_sets", "planned_reps", "planned_breaths"), r.amount("done_sets", "done_reps", "done_breaths")
	s.RateStart, s.RateEnd = r.real("rate_start", maxRate), r.real("rate_end", maxRate)
	s.Match, s.Sound = r.text("match", maxWord), r.text("sound", maxText)
	s.Outcome = sessions.Outcome(r.form("outcome", anOutcome, func(s string) bool { return slices.Contains(outcomes, s) }))
	r.text("reason", maxText) // nothing writes it
	s.Source, s.Extra = r.word("source"), r.flag("extra")
	s.Diary, s.Place = r.id("diary", false), r.between("place", 0, maxPlace)
	s.Unread = r.faults
	return s
}

// inZone returns the local time of a session.
func inZone(t time.Time, zone *time.Location) time.Time {
	if t.IsZero() {
		return t // not known
	}
	return t.In(zone)
}

// The columns of an event, as event reads them: those that a session is gathered
// from, and the others.
const (
	gatheredColumns = "session, seq, kind, exercise, side, set_no, rep, detail"
	eventColumns    = gatheredColumns + ", at_s, done_sets, done_reps, done_breaths"
)

// event reads an event and its session. Its detail is read as text.
func (r *row) event() (session string, e Event) {
	session, _ = r.next().(string)
	r.seq = r.values[0]
	r.between("seq", 0, maxSeq)
	e.Kind = Kind(r.word("kind"))
	e.Exercise, e.Side, e.Set, e.Rep = r.count("exercise"), r.text("side", maxWord), r.count("set_no"), r.count("rep")
	e.Detail = r.text("detail", maxDetail)
	if len(r.values) > 0 {
		e.At, e.Done = seconds(r.real("at_s", maxSeconds)), r.amount("done_sets", "done_reps", "done_breaths")
	}
	return session, e
}

// each reads the rows of a query.
func each(q querier, read func(*row), text string, args ...any) error {
	rows, err := q.Query(text, args...)
	if err != nil {
		return err
	}
	defer rows.Close()
	columns, err := rows.Columns()
	if err != nil {
		return err
	}
	values, to := make([]any, len(columns)), make([]any, len(columns))
	for i := range to {
		to[i] = &values[i]
	}
	for rows.Next() {
		if err := rows.Scan(to...); err != nil {
			return err
		}
		read(&row{values: values})
	}
	return rows.Err()
}
