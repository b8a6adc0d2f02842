//go:build !js

package diary

import (
	"cmp"
	"database/sql"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"slices"
	"strings"

	"glidepace/sessions"
)

// Erasure is all that a diary has of a [Key].
type Erasure struct {
	Sessions int
	From, To string // local dates of the first and the last session; "" if not known
	Loans    []Loan

	ids, titles []string
}

// Erased is what was erased, and the proof.
type Erased struct {
	Erasure
	Files  []string // of the diary, that were looked through
	Looked int      // for so many texts: the patient code, titles, ids of sessions
	Traces []string // files in which one of them still stands
	Shared []string // texts that were not looked for: what is left of others has them too, or they are too short
}

// StillOutError says that a box is out with the patient who is to be erased: nobody
// would know where it is, and its card would bring sessions back.
type StillOutError struct{ Loan Loan }

func (e *StillOutError) Error() string {
	return fmt.Sprintf("nothing was erased: %s is out with %s since %s", e.Loan.Box, e.Loan.Patient, sessions.DateOf(e.Loan.Out))
}

// ToErase returns what [Diary.Erase] would erase. It refuses where a box is out with the
// patient ([*StillOutError]).
func (d *Diary) ToErase(k Key) (e Erasure, err error) { return d.toErase(d.db, k) }

func (d *Diary) toErase(q querier, k Key) (e Erasure, err error) {
	err = each(q, func(r *row) {
		id, _ := r.next().(string)
		title, _ := r.next().(string)
		date, _ := r.next().(string)
		if !slices.Contains(e.ids, id) {
			e.ids = append(e.ids, id)
		}
		if title != "" && !slices.Contains(e.titles, title) {
			e.titles = append(e.titles, title)
		}
		if date != "" {
			e.From, e.To = min(cmp.Or(e.From, date), date), max(e.To, date)
		}
	}, `SELECT id, title, date FROM sessions WHERE patient = ?1 AND (patient <> '' OR title = ?2)
		UNION SELECT id, title, date FROM kept_sessions WHERE patient = ?1 AND (patient <> '' OR title = ?2) ORDER BY id`, k.Patient, k.Title)
	e.Sessions = len(e.ids)
	if err == nil {
		err = each(q, func(r *row) { e.Loans = append(e.Loans, r.loan()) },
			"SELECT "+loanColumns+` FROM loans WHERE patient = ? AND patient <> '' ORDER BY "out"`, k.Patient)
	}
	if i := slices.IndexFunc(e.Loans, Loan.IsOut); err == nil && i >= 0 {
		return e, &StillOutError{e.Loans[i]}
	}
	return e, d.explain(err)
}

// Erase erases all that the diary has of a key: sessions with all versions of them,
// events and loans. Then nothing of it is left in the diary's files: what is erased is
// overwritten, the write-ahead log is emptied, the file is written anew, and all of them
// are looked through for the patient code, the titles and the ids. Another call finishes
// one that was cut off.
//
// It refuses while a session runs, or while a box is out with the patient
// ([*StillOutError]). Copies in other places it does not know; if one of them is merged,
// the sessions come back.
func (d *Diary) Erase(k Key) (e Erased, err error) {
	lock, err := tryLock(d.path+mergeLock, os.O_CREATE|os.O_RDWR)
	if err == nil && lock == nil {
		err = errors.New("another program merges into it: wait until it is done")
	}
	if err != nil {
		return e, fmt.Errorf("diary %s: nothing was erased: %w", d.name, err)
	}
	defer release(lock)
	if err := nothingRuns(d.path); err != nil {
		return e, fmt.Errorf("nothing was erased: %w", err)
	}
	if _, err := d.db.Exec("PRAGMA secure_delete = ON"); err != nil {
		return e, d.explain(err)
	}
	err = d.atomically(func(tx *sql.Tx) error {
		if e.Erasure, err = d.toErase(tx, k); err != nil {
			return err
		}
		return e.delete(tx, k)
	})
	if err != nil {
		return e, err
	}
	if err := d.sweep(); err != nil {
		return e, fmt.Errorf("it is erased, but traces may be left in the diary's files: %w; erase once more", err)
	}
	return e, e.lookForTraces(d, k)
}

func (e *Erased) delete(tx *sql.Tx, k Key) error {
	ids, err := json.Marshal(e.ids)
	if err != nil {
		return err
	}
	for _, rows := range []string{"events WHERE session", "kept_events WHERE session", "kept_sessions WHERE id", "sessions WHERE id"} {
		if _, err := tx.Exec("DELETE FROM "+rows+" IN (SELECT value FROM json_each(?))", string(ids)); err != nil {
			return err
		}
	}
	_, err = tx.Exec("DELETE FROM loans WHERE patient = ? AND patient <> ''", k.Patient)
	return err
}

// sweep brings what was erased out of all files of the diary: the write-ahead log, free
// pages, and the copy that a merge left if it was cut off.
func (d *Diary) sweep() error {
	if err := os.RemoveAll(d.path + mergeFolder); err != nil {
		return err
	}
	for _, statement := range []string{"PRAGMA wal_checkpoint(TRUNCATE)", "VACUUM", "PRAGMA wal_checkpoint(TRUNCATE)"} {
		var busy bool
		err := each(d.db, func(r *row) { busy = r.next() != int64(0) }, statement)
		if err != nil {
			return d.explain(err)
		}
		if busy {
			return fmt.Errorf("diary %s: another program reads it: close that program", d.name)
		}
	}
	return nil
}

// shortestTrace is the fewest bytes of a text that do not stand in a file by chance.
const shortestTrace = 4

// lookForTraces looks through all bytes of the diary's files.
func (e *Erased) lookForTraces(d *Diary, k Key) error {
	texts := slices.Clone(e.ids)
	for _, text := range append([]string{cmp.Or(k.Patient, k.Title)}, e.titles...) {
		shared, err := d.holds(text)
		switch {
		case err != nil:
			return err
		case slices.Contains(texts, text) || slices.Contains(e.Shared, text):
		case shared || len(text) < shortestTrace:
			e.Shared = append(e.Shared, text)
		default:
			texts = append(texts, text)
		}
	}
	e.Looked = len(texts)
	files, err := Files(d.path)
	if err != nil {
		return err
	}
	for _, name := range files {
		if name == d.path+mergeLock {
			continue // it is empty, and goes with this call
		}
		found, err := stands(name, texts)
		if errors.Is(err, fs.ErrNotExist) {
			continue
		}
		if err != nil {
			return fmt.Errorf("diary %s: it is erased, but whether traces are left cannot be seen: %w", d.name, err)
		}
		e.Files = append(e.Files, name)
		if found {
			e.Traces = append(e.Traces, name)
		}
	}
	return nil
}

// holds reports whether a text is part of any value in the diary.
func (d *Diary) holds(text string) (found bool, err error) {
	conditions := make(map[string][]string)
	err = each(d.db, func(r *row) {
		table, column := r.text("table", maxWord), r.text("column", maxWord)
		conditions[table] = append(conditions[table], fmt.Sprintf(`instr("%s", ?1)`, column))
	}, "SELECT t.name, c.name FROM sqlite_schema AS t, pragma_table_info(t.name) AS c WHERE t.type = 'table'")
	for table, list := range conditions {
		if err != nil || found {
			break
		}
		err = d.db.QueryRow("SELECT EXISTS (SELECT 1 FROM "+table+" WHERE "+strings.Join(list, " OR ")+")", text).Scan(&found)
	}
	return found, d.explain(err)
}

// stands reports whether one of the texts, of at least two bytes each, stands in a file.
func stands(name string, texts []string) (bool, error) {
	f, err := os.Open(name)
	if err != nil {
		return false, err
	}
	defer f.Close()
	beginning := make(map[[2]byte][]string) // by the two bytes that they begin with
	var begins [1 << 16]bool
	longest := 0
	for _, text := range texts {
		key := [2]byte{text[0], text[1]}
		beginning[key] = append(beginning[key], text)
		begins[int(text[0])<<8|int(text[1])] = true
		longest = max(longest, len(text))
	}
	const piece = 1 << 20
	buffer := make([]byte, 0, piece+longest)
	for {
		n, err := io.ReadFull(f, buffer[len(buffer):cap(buffer)])
		buffer = buffer[:len(buffer)+n]
		for at := 1; at < len(buffer); at++ {
			if !begins[int(buffer[at-1])<<8|int(buffer[at])] {
				continue
			}
			for _, text := range beginning[[2]byte{buffer[at-1], buffer[at]}] {
				if strings.HasPrefix(string(buffer[at-1:min(at-1+len(text), len(buffer))]), text) {
					return true, nil
				}
			}
		}
		switch {
		case errors.Is(err, io.EOF), errors.Is(err, io.ErrUnexpectedEOF):
			return false, nil
		case err != nil:
			return false, err
		}
		buffer = buffer[:copy(buffer, buffer[len(buffer)-longest:])] // a text may begin there
	}
}
