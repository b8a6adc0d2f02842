//go:build !js

package diary

import (
	"database/sql"
	"encoding/json"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"syscall"
	"time"

	"modernc.org/sqlite"
	sqlite3 "modernc.org/sqlite/lib"

	"glidepace/sessions/plaintext"
)

// applicationID marks an SQLite file as a diary: "GPDY".
const applicationID = 0x47504459

// migrations lead from format n to n+1, the first from nothing. What is
// released is never edited, only added to. Times are RFC 3339 in UTC, always
// with milliseconds so that they sort as text.
var migrations = []string{`
CREATE TABLE sessions (
	id              TEXT    NOT NULL PRIMARY KEY,
	title           TEXT    NOT NULL,
	patient         TEXT    NOT NULL,
	prescription    TEXT    NOT NULL,
	started         TEXT,             -- NULL: not known
	offset_min      INTEGER NOT NULL, -- local time at the start is UTC plus this
	date            TEXT,             -- local date of the start; NULL: not known
	ended           TEXT,             -- NULL: not ended, or not known
	length_s        REAL    NOT NULL DEFAULT 0, -- by the monotonic clock, so far or in all
	planned_sets    INTEGER NOT NULL,
	planned_reps    INTEGER NOT NULL,
	planned_breaths INTEGER NOT NULL,
	done_sets       INTEGER NOT NULL DEFAULT 0,
	done_reps       INTEGER NOT NULL DEFAULT 0,
	done_breaths    INTEGER NOT NULL DEFAULT 0,
	rate_start      REAL    NOT NULL, -- breaths per minute
	rate_end        REAL    NOT NULL,
	"match"         TEXT    NOT NULL,
	sound           TEXT    NOT NULL,
	outcome         TEXT    NOT NULL DEFAULT '', -- '': not ended
	reason          TEXT    NOT NULL DEFAULT '', -- nothing writes it
	source          TEXT    NOT NULL,
	extra           INTEGER NOT NULL
) STRICT, WITHOUT ROWID;
CREATE TABLE events (
	session      TEXT    NOT NULL REFERENCES sessions(id),
	seq          INTEGER NOT NULL,
	at_s         REAL    NOT NULL, -- since the session's start, monotonic
	kind         TEXT    NOT NULL,
	exercise     INTEGER NOT NULL,
	side         TEXT    NOT NULL,
	set_no       INTEGER NOT NULL,
	rep          INTEGER NOT NULL,
	done_sets    INTEGER NOT NULL, -- the session's totals by then
	done_reps    INTEGER NOT NULL,
	done_breaths INTEGER NOT NULL,
	detail       TEXT    NOT NULL,
	PRIMARY KEY (session, seq)
) STRICT, WITHOUT ROWID;
`, `
CREATE TABLE self (diary TEXT NOT NULL) STRICT; -- the id of this diary, in one row
ALTER TABLE sessions ADD COLUMN diary TEXT NOT NULL DEFAULT ''; -- that recorded it; '': not known
ALTER TABLE sessions ADD COLUMN place INTEGER NOT NULL DEFAULT 0; -- among those that it recorded, from 1
`, `
CREATE TABLE loans (
	box        TEXT    NOT NULL, -- its name
	patient    TEXT    NOT NULL,
	"out"      TEXT    NOT NULL, -- when the card was loaded
	offset_min INTEGER NOT NULL, -- local time then is UTC plus this
	due        TEXT    NOT NULL, -- local date
	stage      INTEGER NOT NULL, -- 0: loading began; 1: it was not done; 2: lent
	back       TEXT,             -- local date; NULL: not back
	lost       TEXT,             -- local date on which it was said to be lost; NULL: it was not
	PRIMARY KEY (box, patient, "out")
) STRICT, WITHOUT ROWID;
-- Versions of sessions that are not read, with the columns of sessions and events.
CREATE TABLE kept_sessions (
	version         TEXT    NOT NULL, -- made of all that it says
	id              TEXT    NOT NULL,
	title           TEXT    NOT NULL,
	patient         TEXT    NOT NULL,
	prescription    TEXT    NOT NULL,
	started         TEXT,
	offset_min      INTEGER NOT NULL,
	date            TEXT,
	ended           TEXT,
	length_s        REAL    NOT NULL,
	planned_sets    INTEGER NOT NULL,
	planned_reps    INTEGER NOT NULL,
	planned_breaths INTEGER NOT NULL,
	done_sets       INTEGER NOT NULL,
	done_reps       INTEGER NOT NULL,
	done_breaths    INTEGER NOT NULL,
	rate_start      REAL    NOT NULL,
	rate_end        REAL    NOT NULL,
	"match"         TEXT    NOT NULL,
	sound           TEXT    NOT NULL,
	outcome         TEXT    NOT NULL,
	reason          TEXT    NOT NULL,
	source          TEXT    NOT NULL,
	extra           INTEGER NOT NULL,
	diary           TEXT    NOT NULL,
	place           INTEGER NOT NULL,
	PRIMARY KEY (id, version)
) STRICT, WITHOUT ROWID;
CREATE TABLE kept_events (
	version      TEXT    NOT NULL, -- of no session in kept_sessions: said of all versions
	session      TEXT    NOT NULL,
	seq          INTEGER NOT NULL,
	at_s         REAL    NOT NULL,
	kind         TEXT    NOT NULL,
	exercise     INTEGER NOT NULL,
	side         TEXT    NOT NULL,
	set_no       INTEGER NOT NULL,
	rep          INTEGER NOT NULL,
	done_sets    INTEGER NOT NULL,
	done_reps    INTEGER NOT NULL,
	done_breaths INTEGER NOT NULL,
	detail       TEXT    NOT NULL,
	PRIMARY KEY (session, version, seq)
) STRICT, WITHOUT ROWID;
`}

// Conditions for few events that have an index of their own. A query uses it only if
// it has these words.
const (
	saysWhere = "kind IN ('undated', 'entered', 'wrong-day')" // in the order a session belongs
	oldStop   = "kind = 'stopped' AND detail = ''"            // of format 1
)

// indexes are made where they are not there yet. They change no format: a version
// that does not know them keeps them up to date all the same.
const indexes = `
CREATE INDEX IF NOT EXISTS sessions_patient ON sessions (patient, title);
CREATE INDEX IF NOT EXISTS sessions_date ON sessions (date);
CREATE INDEX IF NOT EXISTS sessions_place ON sessions (diary, place);
CREATE INDEX IF NOT EXISTS sessions_open ON sessions (id) WHERE outcome = '';
CREATE INDEX IF NOT EXISTS events_where ON events (session, seq) WHERE ` + saysWhere + `;
CREATE INDEX IF NOT EXISTS events_old_stop ON events (session, seq) WHERE ` + oldStop + `;`

// allColumns needs every column there is.
var allColumns = "SELECT " + sessionColumns + " FROM sessions LIMIT 0; SELECT " + eventColumns + " FROM events LIMIT 0; SELECT " + loanColumns +
	" FROM loans LIMIT 0; SELECT version, " + sessionColumns + " FROM kept_sessions LIMIT 0; SELECT version, " + eventColumns + " FROM kept_events LIMIT 0"

// plainTable and plainIndex are how tables and indexes are made that only keep values.
var (
	plainTable = regexp.MustCompile(`(?i)^create table "?\w+"? ?\( ?` + plainColumn + `( ?, ?` + plainColumn + `)*( ?, ?primary key ?\([\w", ]+\))? ?\)( ?,? ?(strict|without rowid))*$`)
	plainIndex = regexp.MustCompile(`(?i)^create (unique )?index "?\w+"? on "?\w+"? ?\([\w", ]+\)( where \w+ (= '[^']*'|in \([\w', -]*\))( and \w+ = '[^']*')?)?$`)
	sqlSpace   = regexp.MustCompile(`'[^']*'|"[^"]*"|(--[^\n]*(\n|$)|\s)+`) // or what is quoted
)

const plainColumn = `"?\w+"?( (text|integer|real))?( not null)?( primary key)?( references "?sessions"? ?\(id\))?( default ('[^']*'|\d+))?`

// runsSomething reports whether SQLite would run what somebody put into a file when it is
// read or written: views, triggers, virtual tables, expressions. No version makes these;
// a table or an index that another program added does no harm.
func runsSomething(made string) bool {
	made = strings.TrimSpace(sqlSpace.ReplaceAllStringFunc(made, func(found string) string {
		if strings.ContainsAny(found[:1], `'"`) {
			return found
		}
		return " "
	}))
	return !plainTable.MatchString(made) && !plainIndex.MatchString(made)
}

// prepare looks at what the file is before anything in it is changed, then
// brings it to the newest format.
func (d *Diary) prepare(create bool) error {
	version, blank, err := d.format(d.db)
	if err == nil && d.options.passing { // made by who knows whom
		err = d.check()
	}
	if err != nil {
		return d.explain(err)
	}
	if blank && !create {
		return &NoDiaryError{d.name}
	}
	if blank {
		// A name that stood ready, or a first run that was cut off. A file
		// system without modes has none to set.
		_ = os.Chmod(d.path, 0o600)
	}
	if err := d.useJournal(d.db); err != nil {
		return d.explain(err)
	}
	if version < len(migrations) {
		if err := d.migrate(); err != nil {
			return err
		}
	}
	if _, err := d.db.Exec(allColumns); err != nil {
		return d.explain(err)
	}
	return d.makeIndexes()
}

func (d *Diary) makeIndexes() error {
	var there int
	if err := d.db.QueryRow("SELECT count(*) FROM sqlite_schema WHERE type = 'index' AND sql IS NOT NULL").Scan(&there); err != nil {
		return d.explain(err)
	}
	if there < strings.Count(indexes, ";") { // an older diary, or who knows whose
		if err := d.check(); err != nil {
			return d.explain(err)
		}
	}
	if _, err := d.db.Exec(indexes); err == nil { // else it only takes longer
		d.byWhere, d.byOldStop = "INDEXED BY events_where", "INDEXED BY events_old_stop"
	}
	return nil
}

// check has SQLite look at the whole file, in time that its size bounds. Reading a file
// that is not sound may never end: its pages may lead in circles.
func (d *Diary) check() error {
	var found string
	err := d.db.QueryRow("PRAGMA integrity_check(1)").Scan(&found)
	if err == nil && found != "ok" {
		err = fmt.Errorf("diary %s: the file is damaged: keep it in another place (%s)", d.name, plaintext.Said(found))
	}
	return err
}

// migrate brings the diary to the newest format.
func (d *Diary) migrate() error {
	return d.atomically(func(tx *sql.Tx) error {
		version, _, err := d.format(tx) // another program may have been quicker
		if err != nil {
			return err
		}
		for ; version < len(migrations); version++ {
			if _, err := tx.Exec(migrations[version]); err != nil {
				return err
			}
		}
		if _, err := tx.Exec("INSERT INTO self SELECT ? WHERE NOT EXISTS (SELECT 1 FROM self)", newID()); err != nil {
			return err
		}
		_, err = tx.Exec(fmt.Sprintf("PRAGMA application_id = %d; PRAGMA user_version = %d", applicationID, version))
		return err
	})
}

// format returns the diary's format number, 0 for a blank file, and refuses
// what is not a diary or too new. SQLite's errors come as they are.
func (d *Diary) format(q rowQuerier) (version int, blank bool, err error) {
	var app int
	var schema string // SQL, in JSON
	err = q.QueryRow(`SELECT application_id, user_version, (SELECT json_group_array(sql) FROM sqlite_schema WHERE sql IS NOT NULL)
		FROM pragma_application_id, pragma_user_version`).Scan(&app, &version, &schema)
	var made []string
	if err == nil {
		err = json.Unmarshal([]byte(schema), &made)
	}
	switch {
	case err != nil:
		return 0, false, err
	case app == 0 && version == 0 && len(made) == 0:
		return 0, true, nil
	case app != applicationID, version < 1:
		return 0, false, d.notADiary()
	case version > len(migrations):
		return 0, false, &PlaceError{d.name, fmt.Sprintf("written by a newer glidepace, in format %d (this one knows up to %d): update glidepace", version, len(migrations)), nil}
	}
	if i := slices.IndexFunc(made, runsSomething); i >= 0 {
		return 0, false, &PlaceError{d.name, fmt.Sprintf("it holds what no glidepace puts there and what would run when it is read, and was left as it is: %.60q", made[i]), nil}
	}
	return version, false, nil
}

// useJournal switches to the write-ahead log, with which readers and a writer
// do not wait for each other, or on a card to a rollback journal. The switch
// needs the file for itself, and SQLite does not wait for that: so it is asked
// again.
func (d *Diary) useJournal(db *sql.DB) error {
	mode := "WAL"
	if d.options.Card {
		mode = "PERSIST"
	}
	for tries := 0; ; tries++ {
		_, err := db.Exec("PRAGMA journal_mode = " + mode)
		if code(err) != sqlite3.SQLITE_BUSY || tries == 500 {
			return err
		}
		time.Sleep(10 * time.Millisecond)
	}
}

// code is SQLite's primary result code of an error, 0 for any other error.
func code(err error) int {
	var e *sqlite.Error
	if !errors.As(err, &e) {
		return 0
	}
	return e.Code() & 0xff
}

const fullDisk = "the disk is full: free some space"

// diskFull reports whether there is no room for what SQLite needs beside the
// diary. Its own error then says only that something could not be written.
func (d *Diary) diskFull() bool {
	f, err := os.CreateTemp(filepath.Dir(d.path), ".room-*")
	if err == nil {
		_, err = f.Write(make([]byte, 64<<10))
		f.Close()
		os.Remove(f.Name())
	}
	return errors.Is(err, syscall.ENOSPC) || errors.Is(err, syscall.EDQUOT)
}

func (d *Diary) notADiary() error {
	return &PlaceError{d.name, "this file is not a diary of glidepace and was left as it is", nil}
}

// explain names the diary, and says in plain words what SQLite's error means.
func (d *Diary) explain(err error) error {
	reason := "SQLite reports an error"
	if code(err) != 0 && d.file != nil {
		if gone := d.gone(); gone != nil {
			return gone
		}
	}
	switch code(err) {
	case 0: // not SQLite's: it is explained already
		return err
	case sqlite3.SQLITE_NOTADB:
		return d.notADiary()
	case sqlite3.SQLITE_READONLY, sqlite3.SQLITE_PERM:
		return &PlaceError{d.name, "it cannot be written: see to the rights of the file and its folder", err}
	case sqlite3.SQLITE_CANTOPEN:
		if d.diskFull() {
			return &PlaceError{d.name, fullDisk, err}
		}
		return &PlaceError{d.name, "it cannot be opened: the file and its folder must be writable, even to read it", err}
	case sqlite3.SQLITE_FULL:
		reason = fullDisk
	case sqlite3.SQLITE_BUSY:
		reason = "another program keeps it busy: close that program"
	case sqlite3.SQLITE_ERROR:
		reason = "something that belongs in a diary is not in the file, so it was damaged or changed by another program: keep it in another place"
	case sqlite3.SQLITE_TOOBIG:
		reason = "it holds a value that is larger than any that a diary has, so it was damaged or changed by hand: keep it in another place"
	case sqlite3.SQLITE_CORRUPT:
		reason = "the file is damaged: keep it in another place, a new diary begins with the next session"
	case sqlite3.SQLITE_IOERR:
		reason = "the disk cannot be read or written: see to the disk"
		if d.diskFull() {
			reason = fullDisk
		}
	}
	return fmt.Errorf("diary %s: %s (%w)", d.name, reason, err)
}
