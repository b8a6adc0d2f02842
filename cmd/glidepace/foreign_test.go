package main

import (
	"bytes"
	"database/sql"
	"encoding/json"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"unicode/utf8"

	"glidepace/cmd/glidepace/internal/live"
	"glidepace/sessions"
	"glidepace/sessions/diary"
	"glidepace/sessions/plaintext"
)

// Whatever stands in a diary, a loan's record or a file's name, what is printed
// holds no character that moves the cursor or turns text around, and no line but
// the program's own.
func FuzzForeignText(f *testing.F) {
	const forged = "zzzz0000  2026-12-01 08:30"
	f.Add("Arm\n"+forged, "\x1b]0;x\x07\x1b[2J")
	f.Add("\r"+forged+"\t1\v", "\u009b31m\u0085"+forged)
	f.Add("\u202e\u2066 \u200b", "\x9b31m\u2028"+forged+"\x00")
	const session = "../../testdata/sessions/first-week.yaml"
	prescribed, err := live.Load(session)
	if err != nil {
		f.Fatal(err)
	}
	dir := f.TempDir()
	kept := filepath.Join(dir, "kept.db")
	keepPast(kept, prescribed, 1, "pain", sessions.Ratings{}, sessions.Ratings{})
	clean, err := os.ReadFile(kept)
	if err != nil {
		f.Fatal(err)
	}

	f.Fuzz(func(t *testing.T, one, two string) {
		dir := t.TempDir()
		printed := func(args ...string) {
			t.Helper()
			var out, errs bytes.Buffer
			run(args, strings.NewReader(""), &out, &errs)
			text := out.String() + errs.String()
			if len(text) == 0 {
				t.Errorf("%q prints nothing", args)
			}
			hidden := func(c rune) bool { return c != '\n' && plaintext.Hidden(c) }
			if strings.ContainsFunc(text, hidden) || !utf8.ValidString(text) || strings.Contains("\n"+text, "\n"+forged) {
				t.Errorf("%q prints %q", args, text)
			}
		}
		write := func(name, text string) string {
			name = filepath.Join(dir, name)
			if err := os.WriteFile(name, []byte(text), 0o600); err != nil {
				t.Fatal(err)
			}
			return name
		}
		clinic := write("clinic.db", string(clean))
		id := spoil(t, clinic, one, two)
		for _, form := range []string{"text", "json"} {
			printed("diary", "list", "--diary", clinic, "--format", form)
			printed("diary", "show", id, "--diary", clinic, "--format", form)
			printed("check", session, "--today", "--diary", clinic, "--format", form)
			printed("review", "--diary", clinic, "--format", form)
			printed("box", "list", "--diary", clinic, "--format", form)
		}
		printed("box", "lost", one, "--diary", clinic)
		printed("diary", "erase", "--patient", "X"+one, "--diary", clinic)
		printed("review", "--diary", clinic, "--note")
		printed("diary", "export", "--diary", clinic, "--format", "json")
		printed("diary", "show", one, "--diary", clinic)
		printed("diary", "list", "--diary", filepath.Join(dir, two))
		printed("check", one, two, filepath.Join(dir, one+".yaml"))
		printed("pace", session, "--screen", two)

		card := filepath.Join(dir, "card")
		if err := os.Mkdir(card, 0o700); err != nil {
			t.Fatal(err)
		}
		write("card/box.yaml", "glidepace-box: 1\nname: Box 3\nsession: session.yaml\ndiary: diary.db\n")
		printed("box", "load", session, "--to", card, "--weeks", "2", "--into", filepath.Join(dir, "new.db"))
		record := filepath.Join(card, "loan.yaml")
		text, err := os.ReadFile(record)
		if err != nil {
			t.Fatal(err)
		}
		write("card/loan.yaml", strings.Replace(string(text), "Box 3", one, 1))
		printed("box", "back", "--from", card, "--into", filepath.Join(dir, "new.db"))
		write("card/loan.yaml", string(text))
		write("card/diary.db", string(clean))
		spoil(t, filepath.Join(card, "diary.db"), one, two)
		printed("box", "back", "--from", card, "--into", filepath.Join(dir, "new.db"))
	})
}

// spoil writes texts into all that a diary has of its one session, and returns
// the session's id.
func spoil(t *testing.T, path, one, two string) (id string) {
	t.Helper()
	db, err := sql.Open("sqlite", path)
	if err != nil {
		t.Fatal(err)
	}
	defer db.Close()
	must := func(_ any, err error) {
		t.Helper()
		if err != nil {
			t.Fatal(err)
		}
	}
	must(nil, db.QueryRow("SELECT id FROM sessions").Scan(&id))
	for _, column := range []string{"title", "patient", "sound", `"match"`, "outcome", "reason", "source"} {
		must(db.Exec("UPDATE sessions SET "+column+" = ?", one))
	}
	const event = "INSERT INTO events SELECT session, ?, 1, ?, 1, ?, 1, 1, 1, 1, 1, ? FROM events WHERE seq = 0"
	must(db.Exec(event, 90, one, two, two))
	must(db.Exec("INSERT INTO loans VALUES (?1, 'X' || ?1, '2026-12-01T08:30:00.000Z', 0, ?2, 2, NULL, ?2)", one, two))
	note, err := json.Marshal(diary.Note{Text: one + two})
	must(db.Exec(event, 91, "note", "", string(note)))
	must(nil, err)
	return id
}
