//go:build js

package diary

import (
	"cmp"
	"encoding/json"
	"errors"
	"fmt"
	"iter"
	"slices"
	"strings"
	"syscall/js"
	"time"

	"glidepace/sessions"
)

// In a browser a diary is a database of the page's own, named by its path. A row
// holds a session with its events, in JSON.

// Diary is an open diary.
type Diary struct {
	path string
	db   js.Value
	id   string
	list []*Session // in the order in which they were recorded
}

const (
	sessionStore = "sessions" // by id
	selfStore    = "self"     // the id of the diary, by "diary"
)

// open tells which sessions run in this page. Another page of the same patient
// is kept from running.
var open = map[string]bool{}

// Open opens the diary of a path. If there is none it makes one.
func (o Options) Open(path string) (*Diary, error) {
	d := &Diary{path: path}
	request, err := try(func() js.Value { return indexedDB().Call("open", "glidepace "+path, 1) })
	if err == nil {
		upgrade := js.FuncOf(func(js.Value, []js.Value) any {
			request.Get("result").Call("createObjectStore", sessionStore)
			request.Get("result").Call("createObjectStore", selfStore)
			return nil
		})
		defer upgrade.Release()
		request.Set("onupgradeneeded", upgrade)
		d.db, err = result(request)
	}
	if err == nil {
		err = d.load()
	}
	if err != nil {
		return nil, &PlaceError{path, "this browser keeps nothing", err}
	}
	return d, nil
}

// OpenExisting is Open: a diary without sessions is as good as none.
func (o Options) OpenExisting(path string) (*Diary, error) { return o.Open(path) }

// OpenExisting is Open.
func OpenExisting(path string) (*Diary, error) { return Options{}.Open(path) }

// load reads the sessions. One that was cut off ends with its last event.
func (d *Diary) load() error {
	id, err := d.get(selfStore, "get", "diary")
	if err != nil {
		return err
	}
	if d.id = newID(); id.Type() == js.TypeString {
		d.id = id.String()
	} else if err := d.put(selfStore, "diary", d.id); err != nil {
		return err
	}
	all, err := d.get(sessionStore, "getAll")
	if err != nil {
		return err
	}
	for i := range all.Length() {
		s := new(Session)
		if err := json.Unmarshal([]byte(all.Index(i).String()), s); err != nil {
			return err
		}
		if s.Outcome == "" && !open[s.ID] {
			s.Outcome = sessions.Interrupted
			if !s.Started.IsZero() {
				s.Ended = s.Started.Add(s.Length)
			}
			if err := d.keep(s); err != nil {
				return err
			}
		}
		d.list = append(d.list, s)
	}
	slices.SortFunc(d.list, func(a, b *Session) int { return cmp.Compare(a.Place, b.Place) })
	return nil
}

// Close closes the diary.
func (d *Diary) Close() error {
	d.db.Call("close")
	return nil
}

// Erase removes the diary of a path, with all that is in it.
func Erase(path string) error {
	request, err := try(func() js.Value { return indexedDB().Call("deleteDatabase", "glidepace "+path) })
	if err == nil {
		_, err = result(request)
	}
	return err
}

// EachWithEvents returns the sessions that the filter selects, as they were recorded.
func (d *Diary) EachWithEvents(f Filter) iter.Seq2[Session, error] {
	return func(yield func(Session, error) bool) {
		for _, s := range d.list {
			is := (f.Patient == "" && !f.NoPatient || s.Patient == f.Patient) && (f.Title == "" || s.Title == f.Title)
			told := *s
			told.gather(s.Events, nil)
			if is && !yield(told, nil) {
				return
			}
		}
	}
}

// Each is [Diary.EachWithEvents].
func (d *Diary) Each(f Filter) iter.Seq2[Session, error] { return d.EachWithEvents(f) }

// PatientCode returns the code as the diary has it, which may be in other letters.
func (d *Diary) PatientCode(given string) (code string, found bool, err error) {
	for _, s := range d.list {
		if strings.EqualFold(s.Patient, given) {
			return s.Patient, true, nil
		}
	}
	return given, false, nil
}

// CountOn returns how many of a key's sessions count towards the dose of a local
// date: those that started on it with at least one repetition done. One whose date is
// unknown or wrong does not count.
func (d *Diary) CountOn(date string, k Key) (n int, err error) {
	for s := range d.Each(Filter{Patient: k.Patient, NoPatient: k.Patient == ""}) {
		if (k.Patient != "" || s.Title == k.Title) && s.Date == date && s.Done.Repetitions > 0 && !s.WrongDay {
			n++
		}
	}
	return n, nil
}

// laterThan reports whether the program paced the session on a later day than today,
// as far as the clock was right.
func (s Session) laterThan(today sessions.Date) bool {
	return (s.Source == Paced || s.Source == OnBox || s.Source == OnPage) && s.Date > today.String() && !s.Started.IsZero() && !s.WrongDay
}

// ClockBehind returns the start of the latest session on a later day than today;
// zero if there is none.
func (d *Diary) ClockBehind(today sessions.Date) (last time.Time, err error) {
	for s := range d.Each(Filter{}) {
		if s.laterThan(today) && s.Started.After(last) {
			last = s.Started
		}
	}
	return last, nil
}

// TodayIs notes that somebody said what day it is: sessions on a later day had a
// clock that was wrong.
func (d *Diary) TodayIs(today sessions.Date, _ time.Time) error {
	for s := range d.Each(Filter{}) {
		if s.laterThan(today) {
			if err := d.later(s.ID, Event{}.With(correction{today.String()})); err != nil {
				return err
			}
		}
	}
	return nil
}

// NextMorning adds to a session whether symptoms were worse until the morning
// after it.
func (d *Diary) NextMorning(id string, answer sessions.NextMorning, at time.Time) error {
	return d.later(id, Event{}.With(morning{answer, at.Truncate(time.Second)}))
}

func (d *Diary) later(id string, e Event) error {
	i := slices.IndexFunc(d.list, func(s *Session) bool { return s.ID == id })
	if i < 0 {
		return &IDError{Given: id}
	}
	d.list[i].Events = append(d.list[i].Events, e)
	return d.keep(d.list[i])
}

// Running is a session that has begun and not ended.
type Running struct {
	d *Diary
	s *Session
}

// Begin keeps a new session.
func (d *Diary) Begin(s *Session) (*Running, error) {
	s.complete()
	s.Diary, s.Place = d.id, 1
	if n := len(d.list); n > 0 {
		s.Place = d.list[n-1].Place + 1
	}
	if s.Boot != nil {
		for old := range d.Each(Filter{}) {
			if old.Boot != nil {
				s.Number = max(s.Number, old.Number)
			}
		}
		s.Number++
	}
	mine := *s
	mine.Events = s.opening()
	open[s.ID] = true
	if err := d.keep(&mine); err != nil {
		return nil, err
	}
	return &Running{d, &mine}, nil
}

// Event keeps one event.
func (r *Running) Event(e Event) error { return r.change(func(s *Session) { s.add(e) }) }

// End keeps the end of the session.
func (r *Running) End(e Ending) error { return r.change(func(s *Session) { s.end(e) }) }

// change keeps the session as it is after a change; after an error it stays as it was.
func (r *Running) change(do func(s *Session)) error {
	next := *r.s
	next.Events = slices.Clone(next.Events)
	do(&next)
	if err := r.d.keep(&next); err != nil {
		return err
	}
	r.s = &next
	return nil
}

// Leave gives up the session. One left before its end reads
// [sessions.Interrupted] when the diary is opened the next time.
func (r *Running) Leave() { delete(open, r.s.ID) }

// gone is nil: nobody replaces a browser's database under an open page.
func (d *Diary) gone() error { return nil }

// keep writes a session. It is in the database when keep returns.
func (d *Diary) keep(s *Session) error {
	text, err := json.Marshal(s)
	if err != nil {
		return err
	}
	return d.put(sessionStore, s.ID, string(text))
}

func (d *Diary) put(store, key, value string) error {
	tx, err := try(func() js.Value {
		tx := d.db.Call("transaction", store, "readwrite", map[string]any{"durability": "strict"})
		tx.Call("objectStore", store).Call("put", value, key)
		return tx
	})
	if err == nil {
		_, err = wait(tx, "oncomplete", "onabort", "onerror")
	}
	return err
}

func (d *Diary) get(store, method string, args ...any) (js.Value, error) {
	request, err := try(func() js.Value {
		return d.db.Call("transaction", store, "readonly").Call("objectStore", store).Call(method, args...)
	})
	if err != nil {
		return js.Value{}, err
	}
	return result(request)
}

// indexedDB is the browser's databases. To look at a name that a browser refuses ends
// the program; to have it looked at is an error.
func indexedDB() js.Value { return js.Global().Get("Reflect").Call("get", js.Global(), "indexedDB") }

// result waits for a request of the database.
func result(request js.Value) (js.Value, error) {
	if _, err := wait(request, "onsuccess", "onerror", "onblocked"); err != nil {
		return js.Value{}, err
	}
	return request.Get("result"), nil
}

// wait waits for the first of some events: good, or one that is an error.
func wait(of js.Value, good string, bad ...string) (js.Value, error) {
	over := make(chan error, 1+len(bad))
	on := func(event string, err func() error) js.Func {
		f := js.FuncOf(func(js.Value, []js.Value) any { over <- err(); return nil })
		of.Set(event, f)
		return f
	}
	defer on(good, func() error { return nil }).Release()
	for _, event := range bad {
		defer on(event, func() error {
			if e := of.Get("error"); e.Truthy() {
				return errors.New(e.Get("message").String())
			}
			return fmt.Errorf("the browser says %s", event[2:])
		}).Release()
	}
	return of, <-over
}

// try turns what a browser throws into an error.
func try(do func() js.Value) (v js.Value, err error) {
	defer func() {
		if thrown := recover(); thrown != nil {
			err = fmt.Errorf("%v", thrown)
		}
	}()
	return do(), nil
}
