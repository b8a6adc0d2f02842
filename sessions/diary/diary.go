//go:build !js

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
// # Loans
//
// A clinic's diary also has the loans of its boxes: see [Loan]. What is known of a loan
// only grows, so that a merge makes the same of two diaries in either order.
//
// # Erasing
//
// Nothing leaves a diary but by [Diary.Erase], which a patient may ask a clinic for.
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
	"context"
	"database/sql"
	"errors"
	"fmt"
	"io/fs"
	"net/url"
	"os"
	"path/filepath"
	"strings"

	"github.com/adrg/xdg"
	"modernc.org/sqlite"
	sqlite3 "modernc.org/sqlite/lib"

	"glidepace/sessions/safefile"
)

// Diary is an open diary. Its methods may be called from several goroutines.
type Diary struct {
	options Options
	path    string // of the file itself: locks and SQLite's journals are named after it, whatever links lead to it
	name    string // what errors call it: the path that was given, or that of which it is a copy
	file    fs.FileInfo
	// name the indexes for saysWhere and oldStop, if they are there
	byWhere, byOldStop string
	db                 *sql.DB
}

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
		if err = o.create(path); err != nil {
			err = &PlaceError{path, "it cannot be made", err}
		}
	}
	if err != nil {
		return nil, err
	}
	if path, err = filepath.EvalSymlinks(path); err != nil {
		return nil, &PlaceError{name, "it cannot be looked at", err}
	}
	for _, ending := range []string{"-journal", "-wal", "-shm"} { // SQLite would wait for a pipe for ever
		if info, err := os.Lstat(path + ending); err == nil && !info.Mode().IsRegular() {
			return nil, &PlaceError{name, path + ending + " beside it is not a file: move that away", nil}
		}
	}
	d := &Diary{options: o, path: path, name: name}
	if d.db, err = d.connect(); err != nil {
		return nil, err
	}
	if err = d.prepare(create); err == nil {
		d.file, err = lookAt(path)
	}
	if err != nil {
		d.db.Close()
		return nil, err
	}
	d.closeDead()
	return d, nil
}

// ErrEmpty says that a file is too short for a diary, even a new one: what was
// in it is lost.
var ErrEmpty = errors.New("the file is empty or cut short")

// minSize is the size of the smallest database, in bytes.
const minSize = 512

// lookAt returns an error if there is no diary at path: a [*NoDiaryError] if there
// is nothing, else a [*PlaceError].
func lookAt(path string) (fs.FileInfo, error) {
	info, err := os.Stat(path)
	switch {
	case errors.Is(err, fs.ErrNotExist):
		if link := danglingLink(path); link != "" {
			return nil, &PlaceError{path, link + " is a link that leads nowhere: put back what it leads to, or remove it", nil}
		}
		if info, err := os.Stat(path + "-wal"); err == nil && info.Size() > 0 {
			if _, err := os.Stat(path); err != nil { // else another program has just made it
				return nil, &PlaceError{path, "the file is gone, but not its journal " + path + "-wal: look for it, or remove the journal and a new diary begins", nil}
			}
		}
		return nil, &NoDiaryError{path}
	case err != nil:
		return nil, &PlaceError{path, "it cannot be looked at", err}
	case !info.Mode().IsRegular():
		return nil, &PlaceError{path, "not a file", nil}
	case info.Size() < minSize:
		return nil, tooShort(path)
	}
	return info, nil
}

// tooShort says what is wrong with a file that is too short for a database. SQLite
// would take it for a new one.
func tooShort(path string) error {
	const start = "SQLite format 3\x00"
	content, err := os.ReadFile(path)
	switch {
	case err != nil:
		return &PlaceError{path, "it cannot be looked at", err}
	case strings.HasPrefix(start, string(content[:min(len(content), len(start))])):
		return &PlaceError{path, "what was in it is lost: look for a copy of it, or remove the file and a new diary begins", ErrEmpty}
	}
	return (&Diary{name: path}).notADiary()
}

// danglingLink returns the link on the way to a file that leads nowhere, "" if
// there is none.
func danglingLink(path string) string {
	for at := path; at != filepath.Dir(at); at = filepath.Dir(at) {
		if _, err := os.Lstat(at); err == nil {
			if _, err := os.Stat(at); err != nil {
				return at
			}
			break
		}
	}
	return ""
}

// gone returns an error if another file, or none, is where the diary was opened.
func (d *Diary) gone() error {
	info, err := os.Stat(d.path)
	if err == nil && os.SameFile(info, d.file) {
		return nil
	}
	return &PlaceError{d.name, "the file was deleted, moved or replaced while it was in use", err}
}

// create makes a diary without sessions that only its owner can read, and the
// folders above it. SQLite gives the files beside it the same mode, whatever the
// umask. The file takes its name once it is whole, so that an empty one is always
// one that was damaged.
func (o Options) create(path string) error {
	if err := os.MkdirAll(filepath.Dir(path), 0o700); err != nil {
		return err
	}
	f, err := safefile.Create(path, false)
	if err != nil {
		return ifNotThere(err)
	}
	defer f.Discard()
	if err := f.Chmod(0o600); err != nil && !o.Card { // a card's file system has no modes
		return err
	}
	d := &Diary{options: o, path: f.Temporary(), name: path}
	if d.db, err = d.connect(); err != nil {
		return err
	}
	// A journal on the disk would stay there if this were killed.
	_, err = d.db.Exec("PRAGMA journal_mode = MEMORY")
	if err := errors.Join(err, d.migrate(), d.db.Close()); err != nil {
		return err
	}
	return ifNotThere(safefile.Commit(f))
}

// ifNotThere returns no error if another program was quicker to make the file.
func ifNotThere(err error) error {
	if refusal, ok := errors.AsType[safefile.Refusal](err); ok && refusal.Exists {
		return nil
	}
	return err
}

// connect opens the diary's file with a single connection: statements wait for
// each other instead of failing.
func (d *Diary) connect() (*sql.DB, error) {
	db, err := sql.Open("sqlite", d.options.source(d.path))
	if err != nil {
		return nil, fmt.Errorf("diary %s: %w", d.name, err)
	}
	db.SetMaxOpenConns(1)
	ctx := context.Background()
	conn, err := db.Conn(ctx)
	if err == nil {
		_, err = sqlite.Limit(conn, sqlite3.SQLITE_LIMIT_LENGTH, largestValue)
		err = errors.Join(err, conn.Close())
	}
	if err != nil {
		db.Close()
		return nil, d.explain(err)
	}
	return db, nil
}

// source is what the SQLite driver opens. It never makes a file, a transaction
// takes the right to write when it begins, and a commit is on the disk when it
// returns.
func (o Options) source(path string) string {
	pragmas := []string{"busy_timeout(5000)", "synchronous(FULL)", "foreign_keys(ON)", "trusted_schema(OFF)"}
	if o.Card {
		pragmas = append(pragmas, "secure_delete(ON)")
	}
	if o.passing {
		pragmas = append(pragmas, "synchronous(OFF)")
	}
	return fileURL(path, url.Values{"mode": {"rw"}, "_txlock": {"immediate"}, "_defensive": {"1"}, "_pragma": pragmas})
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
	if d.options.Card && !d.options.passing {
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
