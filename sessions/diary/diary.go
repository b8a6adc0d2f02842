// Package diary keeps the record of what was done: one row for each session, and
// its events in the order in which they happened.
//
// # What is not written did not happen
//
// The row is committed before the first sound, each repetition as it is done,
// the end with its outcome. A commit is on the disk when it returns (write-ahead
// log, synchronous FULL). So a session that is cut off at any moment still shows
// every repetition that was finished.
//
// A running session holds a lock on a file of its own beside the diary. The
// system frees the lock however the program ends. So a session without an
// outcome whose lock is free was cut off: the next program to open the diary
// closes it as [sessions.Interrupted], at its last event.
//
// # Never in the way
//
// A [Recorder] writes in a goroutine of its own and never keeps its caller
// waiting. If the disk is full or the folder cannot be written, it keeps
// everything in memory and tries again. At the end it hands back what is still
// not written, so that it can be put on paper.
//
// # Room to grow
//
// Events are only ever added. The kind of an event is a word, with details as
// text or JSON, so new kinds need no new tables. The format's number is SQLite's
// user_version, and [Open] brings an older diary up to date. The id of a session
// is random or, from paper, made of the patient, the date and the number. So it
// is unique in every diary, and [Diary.Merge] renames nothing.
//
// What a person says of a session (ratings, what a stop was for, the next
// morning, notes) is an event too, committed when it is said, even after the
// end. What events add up to is not stored again, with one exception: if a
// person says after the end that there were no symptoms, the outcome changes.
//
// # Order
//
// A diary has a random id and numbers the sessions that it records. A merge
// keeps both, so the order in which one diary recorded stands, whatever its
// clock said. (A copy of the file has the same id: what both record from then on
// has no order.)
//
// # Days
//
// A session belongs to the local date on which it started, where it was done.
// That date is stored, so it is the same when the diary is read in another time
// zone.
//
// A machine that keeps no time while it is unplugged does not know the date, and
// the clock of a computer may be wrong: see [Boot].
package diary

import (
	"database/sql"
	"errors"
	"fmt"
	"io/fs"
	"net/url"
	"os"
	"path/filepath"
	"strings"

	"github.com/adrg/xdg"
)

// Diary is an open diary. Its methods may be called from several goroutines.
type Diary struct {
	options Options
	path    string
	name    string // what errors call it: path, or that of which it is a copy
	db      *sql.DB
}

// NoDiaryError says that there is no diary yet at Path.
type NoDiaryError struct{ Path string }

func (e *NoDiaryError) Error() string {
	return fmt.Sprintf("no diary yet at %s: it begins with the first session", e.Path)
}

// PlaceError says why no diary can be kept, or read, in the file at Path. In
// another file one can.
type PlaceError struct {
	Path   string
	Reason string
	Err    error // of the system or of SQLite; nil where there is none
}

func (e *PlaceError) Error() string {
	if e.Err == nil {
		return fmt.Sprintf("diary %s: %s", e.Path, e.Reason)
	}
	return fmt.Sprintf("diary %s: %s (%v)", e.Path, e.Reason, e.Err)
}

func (e *PlaceError) Unwrap() error { return e.Err }

// DefaultPath returns where the diary is unless somebody says otherwise:
// glidepace/diary.db in the XDG state folder ($XDG_STATE_HOME as it is now, else
// the system's usual place).
func DefaultPath() string {
	xdg.Reload() // the library reads the environment only once, at start
	return filepath.Join(xdg.StateHome, "glidepace", "diary.db")
}

// Open opens the diary at path for reading and writing. If there is none it
// makes one that only its owner can read: the folders (0700), the file, and what
// SQLite puts beside it (0600).
//
// An older diary is brought up to date; sessions that were cut off are closed
// as [sessions.Interrupted]. A file that is not a diary, or one of a newer
// glidepace, is left as it is, and the error is a [*PlaceError].
func Open(path string) (*Diary, error) { return Options{}.Open(path) }

// Open is the function [Open] with these options.
func (o Options) Open(path string) (*Diary, error) { return o.open(path, path, true) }

// OpenExisting is [Open], but if there is no diary it makes nothing and returns
// a [*NoDiaryError].
func OpenExisting(path string) (*Diary, error) { return Options{}.OpenExisting(path) }

// OpenExisting is the function [OpenExisting] with these options.
func (o Options) OpenExisting(path string) (*Diary, error) { return o.open(path, path, false) }

// open opens the diary at path; errors call it by the given name.
func (o Options) open(path, name string, create bool) (*Diary, error) {
	path, err := filepath.Abs(path)
	name, err2 := filepath.Abs(name)
	if err := errors.Join(err, err2); err != nil {
		return nil, fmt.Errorf("diary %s: %w", path, err)
	}
	_, err = lookAt(path)
	if create && errors.As(err, new(*NoDiaryError)) {
		if err = touch(path); err != nil {
			err = &PlaceError{path, "it cannot be made", err}
		}
	}
	if err != nil {
		return nil, err
	}
	d := &Diary{options: o, path: path, name: name}
	if d.db, err = d.connect(); err != nil {
		return nil, err
	}
	if err := d.prepare(create); err != nil {
		d.db.Close()
		return nil, err
	}
	d.closeDead()
	return d, nil
}

// lookAt returns an error if there is no file at path: a [*NoDiaryError] if there
// is nothing, else a [*PlaceError].
func lookAt(path string) (fs.FileInfo, error) {
	info, err := os.Stat(path)
	switch {
	case errors.Is(err, fs.ErrNotExist):
		return nil, &NoDiaryError{path}
	case err != nil:
		return nil, &PlaceError{path, "it cannot be looked at", err}
	case !info.Mode().IsRegular():
		return nil, &PlaceError{path, "not a file", nil}
	}
	return info, nil
}

// touch makes an empty file that only its owner can read, and the folders above
// it. SQLite gives the files beside it the same mode, whatever the umask.
func touch(path string) error {
	if err := os.MkdirAll(filepath.Dir(path), 0o700); err != nil {
		return err
	}
	f, err := os.OpenFile(path, os.O_CREATE|os.O_EXCL|os.O_RDWR, 0o600)
	if errors.Is(err, fs.ErrExist) {
		return nil // another program was quicker
	}
	if err != nil {
		return err
	}
	if folder, err := os.Open(filepath.Dir(path)); err == nil {
		folder.Sync() // so that the name outlives a power cut; not every system can
		folder.Close()
	}
	return f.Close()
}

// connect opens the diary's file with a single connection: statements wait for
// each other instead of failing.
func (d *Diary) connect() (*sql.DB, error) {
	db, err := sql.Open("sqlite", d.options.source(d.path))
	if err != nil {
		return nil, fmt.Errorf("diary %s: %w", d.name, err)
	}
	db.SetMaxOpenConns(1)
	return db, nil
}

// source is what the SQLite driver opens. It never makes a file, a transaction
// takes the right to write when it begins, and a commit is on the disk when it
// returns.
func (o Options) source(path string) string {
	pragmas := []string{"busy_timeout(5000)", "synchronous(FULL)", "foreign_keys(ON)"}
	if o.Card {
		pragmas = append(pragmas, "secure_delete(ON)")
	}
	return fileURL(path, url.Values{"mode": {"rw"}, "_txlock": {"immediate"}, "_pragma": pragmas})
}

// fileURL names a file for SQLite.
func fileURL(path string, query url.Values) string {
	path = filepath.ToSlash(path)
	if !strings.HasPrefix(path, "/") {
		path = "/" + path // C:/folder/diary.db
	}
	u := url.URL{Scheme: "file", Path: path, RawQuery: query.Encode()}
	return u.String()
}

// Close closes the diary, and on a card blanks its journal. It does not end a
// session that runs: see [Running.Leave].
func (d *Diary) Close() error {
	var err error
	if d.options.Card {
		err = d.explain(d.blankJournal())
	}
	return errors.Join(err, d.db.Close())
}

// atomically runs do in one transaction: all of it is on the disk afterwards,
// or none.
func (d *Diary) atomically(do func(tx *sql.Tx) error) error {
	tx, err := d.db.Begin()
	if err != nil {
		return d.explain(err)
	}
	if err := do(tx); err != nil {
		tx.Rollback()
		return d.explain(err)
	}
	return d.explain(tx.Commit())
}
