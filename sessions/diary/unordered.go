//go:build !js

package diary

import (
	"bytes"
	"cmp"
	"database/sql"
	"database/sql/driver"
	"errors"
	"iter"
	"math"
	"slices"
	"strings"
	"sync"

	"modernc.org/sqlite"
)

// Unordered returns the sessions of [Diary.Each] in any order. A whole diary it reads ten
// times as fast: two connections side by side, each row once and in the order of the
// file. A session that changes meanwhile may be read with a part of the change.
func (d *Diary) Unordered(f Filter) iter.Seq2[Session, error] {
	if f != (Filter{}) {
		return d.Each(f) // an index finds a part
	}
	return func(yield func(Session, error) bool) {
		if err := d.readAll(yield); err != nil {
			yield(Session{}, d.explain(err))
		}
	}
}

const sideBySide = 2 // connections

// readAll reads all sessions, or until yield returns false.
func (d *Diary) readAll(yield func(Session, error) bool) error {
	var old bool
	err := d.db.QueryRow("SELECT EXISTS (SELECT 1 FROM events " + d.byOldStop + " WHERE " + oldStop + ")").Scan(&old)
	if err != nil {
		return err
	}
	ranges, err := d.idRanges()
	if err != nil {
		return err
	}
	left := make(chan idRange, len(ranges))
	for _, r := range ranges {
		left <- r
	}
	close(left)
	parts, enough := make(chan []Session), make(chan struct{})
	free := make(chan []Session, len(ranges)) // parts that were yielded, to be filled again
	var readers sync.WaitGroup
	errs := make([]error, sideBySide)
	for i := range errs {
		readers.Go(func() { errs[i] = d.readRanges(left, d.gathered(old), parts, free, enough) })
	}
	go func() { readers.Wait(); close(parts) }()
	for part := range parts {
		for _, s := range part {
			if !yield(s, nil) {
				close(enough)
				readers.Wait()
				return nil
			}
		}
		free <- part
	}
	return errors.Join(errs...)
}

// readRanges reads one range of ids after another over a connection of its own. which is the
// condition on events.
func (d *Diary) readRanges(ranges <-chan idRange, which string, parts chan<- []Session, free <-chan []Session, enough <-chan struct{}) error {
	db, err := d.connect()
	if err != nil {
		return err
	}
	defer db.Close()
	w := newSweep(db)
	for ids := range ranges {
		var part []Session
		select {
		case part = <-free:
		default:
		}
		part, err := w.read(ids, which, part[:0])
		if err != nil {
			return err
		}
		select {
		case parts <- part:
		case <-enough:
			return nil
		}
	}
	return nil
}

// idRange is a range of ids: from one text on, and below another. The first range begins,
// and the last one ends, with whatever a damaged diary may hold.
type idRange struct{ from, below string }

// of is the condition that the ids of a column are in the range.
func (r idRange) of(column string) string {
	condition := "true"
	if r.from != "" {
		condition += " AND " + column + " >= '" + r.from + "'"
	}
	if r.below != "" {
		condition += " AND " + column + " < '" + r.below + "'"
	}
	return condition
}

// largePages is the size of a diary, in pages of 4 KiB, from which its parts are by the
// first two letters of the ids, since each part is in memory as a whole.
const largePages = 50_000

// idRanges returns ranges that hold all ids, of as many sessions each.
func (d *Diary) idRanges() (list []idRange, err error) {
	var pages int
	if err := d.db.QueryRow("PRAGMA page_count").Scan(&pages); err != nil {
		return nil, err
	}
	seconds := []string{""}
	if pages > largePages {
		seconds = slices.Sorted(slices.Values(strings.Split(idLetters, "")))
	}
	last := ""
	for _, first := range idLetters[:firstLetters] {
		for _, second := range seconds {
			next := string(first) + second
			list = append(list, idRange{last, next})
			last = next
		}
	}
	return append(list, idRange{last, ""}), nil
}

// sweep reads the sessions of ranges of ids, with what their events tell.
type sweep struct {
	db     rowQuerier
	known  details
	shared map[string]any // texts that many rows have, each once in memory
	row    row            // that is read
	values []any          // of it
	names  []string       // of the sessions in the range
	said   []Event
	wrong  error // ends it
}

func newSweep(db rowQuerier) sweep {
	return sweep{db: db, known: make(details), shared: make(map[string]any)}
}

// read adds the sessions of a range of ids to an empty list. which is a condition on their
// events. Both tables are kept by id, so that the rows of a range come in that order.
func (w *sweep) read(ids idRange, which string, list []Session) ([]Session, error) {
	names, said := w.names[:0], w.said[:0] // said are the events of the session at
	err := w.each(func(r *row) {
		id, _ := r.values[0].(string)
		if n := len(names); n > 0 && id <= names[n-1] {
			w.wrong = errNoOrder
			return
		}
		s := r.session()
		s.ID = strings.Clone(s.ID)
		names, list = append(names, strings.Clone(id)), append(list, s)
	}, sessionColumns, "sessions WHERE typeof(id) = 'text' AND "+ids.of("id"))
	if err != nil {
		return nil, err
	}
	w.names = names
	at := 0
	last := int64(math.MinInt64) // the number of the last of them
	next := func() {
		list[at].gather(said, w.known)
		at++
		said, last = said[:0], math.MinInt64
	}
	err = w.each(func(r *row) {
		id, _ := r.values[0].(string)
		seq, _ := r.values[1].(int64)
		for at < len(names) && names[at] < id {
			next()
		}
		if at == len(names) || names[at] != id {
			return // of no session, which can only be damage
		}
		if seq < last {
			w.wrong = errNoOrder
			return
		}
		last = seq
		_, e := r.event()
		said = append(said, e)
		list[at].Unread = append(list[at].Unread, r.faults...)
	}, gatheredColumns, "events WHERE "+ids.of("session")+" AND "+which)
	for at < len(names) {
		next()
	}
	w.said = said
	return list, err
}

// errNoOrder ends the reading of a damaged file at once: its pages may lead in circles.
var errNoOrder = errors.New("rows of the diary come in no order, so the file is damaged")

// rowQuerier is a database or a transaction.
type rowQuerier interface {
	QueryRow(string, ...any) *sql.Row
}

// passing are the columns of which hardly a value comes twice. Their texts are not kept:
// they are gone when the function that reads the row returns.
var passing = []string{"id", "session", "started", "ended"}

// each hands over the rows of a table, as the function each does. SQLite calls a function
// with the values of a row, which takes a third of the time of asking it for each of them.
func (w *sweep) each(read func(*row), columns, of string, args ...any) error {
	var pass []bool // by column
	for _, column := range columnNames(columns) {
		pass = append(pass, slices.Contains(passing, column))
	}
	handle := rowFunctions.add(func(values []driver.Value) error {
		w.values = w.values[:0]
		for i, v := range values {
			if !pass[i] {
				v = w.keep(v)
			}
			w.values = append(w.values, v)
		}
		w.row = row{values: w.values}
		read(&w.row)
		return w.wrong
	})
	defer rowFunctions.remove(handle)
	var none int
	err := w.db.QueryRow("SELECT count("+rowFunction+"(?, "+columns+")) FROM "+of, append([]any{handle}, args...)...).Scan(&none)
	return cmp.Or(w.wrong, err)
}

// maxShared is how many texts are kept, since a diary may have a title for each session.
const maxShared = 50_000

// keep returns a value that stays when SQLite goes on to the next row.
func (w *sweep) keep(v driver.Value) any {
	switch v := v.(type) {
	case string:
		if one, ok := w.shared[v]; ok {
			return one
		}
		v = strings.Clone(v)
		one := any(v)
		if len(w.shared) < maxShared {
			w.shared[v] = one
		}
		return one
	case []byte:
		return bytes.Clone(v)
	}
	return v
}

// rowFunction is a function of SQLite. Its first argument says which Go function gets the
// others; it returns NULL.
const rowFunction = "glidepace_row"

var rowFunctions = handles{to: make(map[int64]func([]driver.Value) error)}

func init() {
	// VolatileArgs: texts are SQLite's own, and gone after the call.
	sqlite.MustRegisterFunction(rowFunction, &sqlite.FunctionImpl{NArgs: -1, VolatileArgs: true,
		Scalar: func(_ *sqlite.FunctionContext, values []driver.Value) (driver.Value, error) {
			return nil, rowFunctions.call(values)
		}})
}

// handles has Go functions for SQLite, by number.
type handles struct {
	mu   sync.Mutex
	last int64
	to   map[int64]func([]driver.Value) error
}

func (h *handles) add(f func([]driver.Value) error) int64 {
	h.mu.Lock()
	defer h.mu.Unlock()
	h.last++
	h.to[h.last] = f
	return h.last
}

func (h *handles) remove(handle int64) {
	h.mu.Lock()
	defer h.mu.Unlock()
	delete(h.to, handle)
}

func (h *handles) call(values []driver.Value) error {
	if len(values) > 0 {
		if handle, ok := values[0].(int64); ok {
			h.mu.Lock()
			f := h.to[handle]
			h.mu.Unlock()
			if f != nil {
				return f(values[1:])
			}
		}
	}
	return errors.New("no query of this program asks for rows") // but a file might
}
