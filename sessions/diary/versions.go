//go:build !js

package diary

import (
	"cmp"
	"crypto/sha256"
	"database/sql"
	"fmt"
	"maps"
	"slices"
	"strings"
)

// Two diaries may tell one session differently: a sheet of paper was entered into both
// with different numbers, or one was changed by hand. Each is a version of it.
//
//   - A version that has all of another and more takes its place.
//   - Of those that are left, the one with the most events is read; if several have as
//     many, always the same. The others are kept in tables of their own.
//   - What was said after the session is said of all versions. If two entries have the
//     same number, one of them is kept beside the versions.
//
// So what a diary knows of a session is a set, and a merge makes one set of two. Neither
// their order nor a second time makes a difference.

// account is all that a diary knows of a session.
type account struct {
	versions map[string]version
	said     map[string][]any // events that were said after it; by what they are
}

// version is a session's row, in the order of versionColumns, and its events except those
// that were said after it, by what they are.
type version struct {
	row    []any
	events map[string][]any
}

const versionColumns = lasting + ", " + changing

var (
	lastingColumns = strings.Count(lasting, ",") + 1
	outcomeColumn  = slices.Index(columnNames(versionColumns), "outcome")
	kindColumn     = slices.Index(columnNames(eventColumns), "kind")
	seqColumn      = slices.Index(columnNames(eventColumns), "seq")
)

func columnNames(columns string) []string {
	var list []string
	for column := range strings.SplitSeq(columns, ",") {
		list = append(list, strings.TrimSpace(column))
	}
	return list
}

// saidAfter has the kinds of events that somebody may add to any copy of a session.
var saidAfter = []any{string(Noted), string(Morning), string(WrongDay)}

// digest stands for values: the same for the same.
func digest(values ...any) string {
	h := sha256.New()
	for _, v := range values {
		fmt.Fprintf(h, "%#v\n", v)
	}
	return fmt.Sprintf("%.16x", h.Sum(nil))
}

func (v version) digest() string {
	return digest(append(slices.Clone(v.row), strings.Join(slices.Sorted(maps.Keys(v.events)), " "))...)
}

// covers reports whether a version has all that another has. A session without an outcome
// is not known to have ended.
func (v version) covers(w version) bool {
	for event := range w.events {
		if _, there := v.events[event]; !there {
			return false
		}
	}
	return digest(v.row[:lastingColumns]...) == digest(w.row[:lastingColumns]...) &&
		(len(v.events) > len(w.events) || v.row[outcomeColumn] != "" && w.row[outcomeColumn] == "" ||
			digest(v.row[lastingColumns:]...) == digest(w.row[lastingColumns:]...))
}

// join returns what two diaries know together.
func (a account) join(b account) account {
	all, said := maps.Clone(a.versions), maps.Clone(a.said)
	maps.Copy(all, b.versions)
	maps.Copy(said, b.said)
	left := maps.Clone(all)
	for name, v := range all {
		for other, w := range all {
			if name != other && w.covers(v) {
				delete(left, name)
			}
		}
	}
	return account{left, said}
}

// same reports whether two accounts know the same.
func (a account) same(b account) bool {
	keys := func(m map[string]version) []string { return slices.Sorted(maps.Keys(m)) }
	return slices.Equal(keys(a.versions), keys(b.versions)) &&
		slices.Equal(slices.Sorted(maps.Keys(a.said)), slices.Sorted(maps.Keys(b.said)))
}

// read returns the name of the version that is read, and the events that are: its own,
// and those said after it. The others that were said are in unread, by what they are.
func (a account) read() (name string, events [][]any, unread map[string][]any) {
	name = slices.MaxFunc(slices.Collect(maps.Keys(a.versions)), func(x, y string) int {
		return cmp.Or(cmp.Compare(len(a.versions[x].events), len(a.versions[y].events)), cmp.Compare(x, y))
	})
	taken := make(map[any]bool)
	for _, e := range a.versions[name].events {
		events = append(events, e)
		taken[e[seqColumn]] = true
	}
	unread = make(map[string][]any)
	for _, what := range slices.Sorted(maps.Keys(a.said)) {
		e := a.said[what]
		if taken[e[seqColumn]] || !slices.Contains(saidAfter, e[kindColumn]) {
			unread[what] = e
			continue
		}
		events = append(events, e)
		taken[e[seqColumn]] = true
	}
	return name, events, unread
}

// unread returns how much of the account is not read.
func (a account) unread() int {
	if len(a.versions) == 0 {
		return 0
	}
	_, _, said := a.read()
	return len(a.versions) - 1 + len(said)
}

// querier is a database or a transaction.
type querier interface {
	Query(string, ...any) (*sql.Rows, error)
}

// accountOf reads all that a diary, main or other, knows of a session.
func accountOf(q querier, of, id string) (account, error) {
	a := account{make(map[string]version), make(map[string][]any)}
	kept := make(map[string]version)                   // by the name in the table
	kept[""] = version{events: make(map[string][]any)} // that is read
	err := each(q, func(r *row) {
		name := r.next().(string)
		kept[name] = version{slices.Clone(r.values), make(map[string][]any)}
	}, strings.ReplaceAll("SELECT '', "+versionColumns+" FROM OF.sessions WHERE id = ?1 UNION ALL SELECT version, "+versionColumns+
		" FROM OF.kept_sessions WHERE id = ?1", "OF", of), id)
	if err != nil {
		return a, err
	}
	err = each(q, func(r *row) {
		name := r.next().(string)
		e := slices.Clone(r.values)
		if v, there := kept[name]; there && v.row != nil && !slices.Contains(saidAfter, e[kindColumn]) {
			v.events[digest(e...)] = e
		} else {
			a.said[digest(e...)] = e
		}
	}, strings.ReplaceAll("SELECT '', "+eventColumns+" FROM OF.events WHERE session = ?1 UNION ALL SELECT version, "+eventColumns+
		" FROM OF.kept_events WHERE session = ?1", "OF", of), id)
	for _, v := range kept {
		if v.row != nil {
			a.versions[v.digest()] = v
		}
	}
	return a, err
}

// write puts an account in the place of what the diary knows of the session.
func (a account) write(tx *sql.Tx, id string) error {
	name, events, unread := a.read()
	var update []string
	for _, column := range columnNames(versionColumns) {
		update = append(update, column+" = excluded."+column)
	}
	run := func(query string, args ...any) (err error) {
		_, err = tx.Exec(query, args...)
		return err
	}
	insert := func(into, columns string, values ...any) error {
		return run("INSERT INTO main."+into+" ("+columns+") VALUES (?"+strings.Repeat(", ?", len(values)-1)+")"+
			map[bool]string{true: " ON CONFLICT (id) DO UPDATE SET " + strings.Join(update, ", ")}[into == "sessions"], values...)
	}
	for _, table := range []string{"events WHERE session", "kept_events WHERE session", "kept_sessions WHERE id"} {
		if err := run("DELETE FROM main."+table+" = ?", id); err != nil {
			return err
		}
	}
	if err := insert("sessions", versionColumns, a.versions[name].row...); err != nil {
		return err
	}
	for _, e := range events {
		if err := insert("events", eventColumns, e...); err != nil {
			return err
		}
	}
	keep := func(name string, events map[string][]any) error {
		for _, e := range events {
			if err := insert("kept_events", "version, "+eventColumns, append([]any{name}, e...)...); err != nil {
				return err
			}
		}
		return nil
	}
	for other, v := range a.versions {
		if other == name {
			continue
		}
		if err := insert("kept_sessions", "version, "+versionColumns, append([]any{other}, v.row...)...); err != nil {
			return err
		}
		if err := keep(other, v.events); err != nil {
			return err
		}
	}
	for what, e := range unread {
		if err := keep(what, map[string][]any{what: e}); err != nil {
			return err
		}
	}
	return nil
}

// kept returns the versions of a session that are not read, and what was said after it and
// is not.
func (d *Diary) kept(id string) (versions []Session, said []Event, err error) {
	var names []string
	err = each(d.db, func(r *row) {
		name, _ := r.next().(string)
		names, versions = append(names, name), append(versions, r.session())
	}, "SELECT version, "+sessionColumns+" FROM kept_sessions WHERE id = ? ORDER BY version", id)
	if err != nil {
		return nil, nil, err
	}
	err = each(d.db, func(r *row) {
		name, _ := r.next().(string)
		_, e := r.event()
		if i := slices.Index(names, name); i >= 0 {
			versions[i].Events = append(versions[i].Events, e)
			versions[i].Unread = append(versions[i].Unread, r.faults...)
		} else {
			said = append(said, e)
		}
	}, "SELECT version, "+eventColumns+" FROM kept_events WHERE session = ? ORDER BY version, seq", id)
	for i := range versions {
		versions[i].gather(versions[i].Events, nil)
	}
	return versions, said, err
}
