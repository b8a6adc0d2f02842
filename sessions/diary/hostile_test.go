package diary

import (
	"database/sql"
	"encoding/binary"
	"os"
	"path/filepath"
	"strings"
	"testing"
)

// Somebody made these to do harm. None is merged, and one that harms whoever reads it is
// not read: values that would take gigabytes, or pages that lead in circles, take no more
// time and memory than the size of the file.
func TestHostileDiaries(t *testing.T) {
	const alter = "PRAGMA writable_schema = ON; UPDATE sqlite_schema SET sql = replace(sql, "
	const notADiary, runs, lacking, damaged, strayEvent = "is not a diary", "would run when it is read", "something that belongs in a diary is not in the file", "the file is damaged", "event 77, session"
	sound := card(t, filepath.Join(t.TempDir(), "diary.db"))
	add(t, sound, "b000000000", 3, true)
	do(t, sound.Close())
	content := must(os.ReadFile(sound.path))
	for change, want := range map[string]string{
		"CREATE TRIGGER away AFTER UPDATE ON sessions BEGIN DELETE FROM events; END":                                         runs,
		"DROP TABLE loans; CREATE VIEW loans AS SELECT id AS box FROM sessions":                                              runs,
		"CREATE TABLE more (a TEXT DEFAULT '--', b TEXT AS (hex(zeroblob(9999999))), c TEXT DEFAULT '\n')":                   runs, // no comment
		"CREATE VIRTUAL TABLE more USING fts5(text)":                                                                         runs,
		"CREATE INDEX more ON sessions (hex(zeroblob(length(id) * 1000)))":                                                   runs,
		"CREATE INDEX more ON sessions (id) WHERE hex(id) = '00'":                                                            runs,
		alter + "'reason          TEXT    NOT NULL DEFAULT ''''', 'reason TEXT AS (hex(zeroblob(400000000)))')":              runs,
		alter + "'extra           INTEGER NOT NULL', 'extra INTEGER NOT NULL CHECK (length(hex(zeroblob(400000000))) > 0)')": runs,
		"PRAGMA application_id = 5":            notADiary,
		"PRAGMA user_version = -3":             notADiary,
		"PRAGMA user_version = 0":              notADiary,
		"PRAGMA user_version = 99":             "a newer glidepace",
		"DROP TABLE events":                    lacking,
		"ALTER TABLE loans RENAME due TO duty": lacking,
		"UPDATE events SET detail = printf('%40000000c', 'x') WHERE seq = 0": "larger than any that a diary has",
		"circles": damaged,
		"INSERT INTO events SELECT 'x000000000', 77, at_s, kind, exercise, side, set_no, rep, done_sets, done_reps, done_breaths, detail FROM events LIMIT 1": strayEvent,
		// Another program's, and harmless.
		"CREATE INDEX more ON loans (patient, due); CREATE TABLE other_program (a TEXT, b INTEGER NOT NULL); ANALYZE": "",
	} {
		path := filepath.Join(t.TempDir(), "diary.db")
		do(t, os.WriteFile(path, content, 0o600))
		if change == "circles" {
			leadInCircles(t, path)
		} else {
			db := must(sql.Open("sqlite", path))
			must(db.Exec(change))
			do(t, db.Close())
		}
		clinic := fresh(t)
		if want == "" {
			mergeAll(t, clinic, path, "b//")
			continue
		}
		errs := map[string]error{"merged": refused(t, clinic, path)}
		if want != strayEvent {
			d, err := OpenExisting(path)
			if err == nil {
				_, err = readAll(d)
				d.Close()
			}
			errs["read"] = err
		}
		for how, err := range errs {
			if err == nil || !strings.Contains(err.Error(), path) || !strings.Contains(err.Error(), want) {
				t.Errorf("%s: %s: %v, want %q", change, how, err, want)
			}
		}
	}
}

// What stands beside a diary under a name of SQLite's may be a pipe, for which SQLite would
// wait, or lead elsewhere.
func TestOnlyFilesBesideADiary(t *testing.T) {
	for _, ending := range []string{"-journal", "-wal", "-shm"} {
		d := fresh(t)
		do(t, d.Close(), os.Symlink("/dev/zero", d.path+ending))
		if _, err := Open(d.path); err == nil || !strings.Contains(err.Error(), d.path+ending+" beside it is not a file") {
			t.Errorf("%v", err)
		}
	}
}

// leadInCircles has the pages of the events lead to each other, so that to read them all
// would take longer than anybody lives. See https://www.sqlite.org/fileformat.html, 1.6.
func leadInCircles(t *testing.T, path string) {
	const size, levels, children = 4096, 12, 30
	db := must(sql.Open("sqlite", path))
	for _, name := range []string{"sessions_patient", "sessions_date", "sessions_place", "sessions_open", "events_where", "events_old_stop"} {
		must(db.Exec("DROP INDEX " + name)) // to make them again, all is read
	}
	var root, pages int
	do(t, db.QueryRow("SELECT rootpage, page_count FROM sqlite_schema, pragma_page_count WHERE name = 'events'").Scan(&root, &pages), db.Close())
	file := must(os.ReadFile(path))
	leaf := append([]byte(nil), file[(root-1)*size:root*size]...)
	row := leaf[binary.BigEndian.Uint16(leaf[8:]):]
	row = row[:1+row[0]] // its size, less than 128, and itself
	for level := range levels {
		page, next := make([]byte, size), uint32(pages+1+level)
		page[0] = 2 // an inner page
		end := size
		for i := range children {
			end -= 4 + len(row)
			binary.BigEndian.PutUint32(page[end:], next)
			copy(page[end+4:], row)
			binary.BigEndian.PutUint16(page[12+2*i:], uint16(end))
		}
		binary.BigEndian.PutUint16(page[3:], children)
		binary.BigEndian.PutUint16(page[5:], uint16(end))
		binary.BigEndian.PutUint32(page[8:], next)
		if level == 0 {
			copy(file[(root-1)*size:], page)
		} else {
			file = append(file, page...)
		}
	}
	file = append(file, leaf...)
	binary.BigEndian.PutUint32(file[28:], uint32(pages+levels))
	do(t, os.WriteFile(path, file, 0o600))
}
