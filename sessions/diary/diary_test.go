package diary

import (
	"bytes"
	"database/sql"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"reflect"
	"slices"
	"strings"
	"testing"
	"time"

	"pgregory.net/rapid"

	"glidepace/sessions"
)

func TestDefaultPathFollowsTheEnvironment(t *testing.T) {
	state := t.TempDir()
	t.Setenv("XDG_STATE_HOME", state)
	if got, want := DefaultPath(), filepath.Join(state, "glidepace", "diary.db"); got != want {
		t.Errorf("DefaultPath() = %s, want %s", got, want)
	}
}

func TestReadingMakesNothing(t *testing.T) {
	dir := t.TempDir()
	path := filepath.Join(dir, "state", "diary.db")
	_, err := OpenExisting(path)
	var none *NoDiaryError
	if !errors.As(err, &none) || none.Path != path {
		t.Fatalf("error %v, want a NoDiaryError for %s", err, path)
	}
	if entries, _ := os.ReadDir(dir); len(entries) > 0 {
		t.Errorf("reading made %s", entries[0].Name())
	}
	// A database with nothing in it is no diary yet either, and stays as it is.
	blank := blankAt(t, filepath.Join(dir, "blank.db"))
	before := must(os.ReadFile(blank))
	if _, err := OpenExisting(blank); !errors.As(err, &none) {
		t.Errorf("blank file: error %v, want a NoDiaryError", err)
	}
	if after, err := os.ReadFile(blank); err != nil || !bytes.Equal(after, before) {
		t.Errorf("the blank file was changed (%v)", err)
	}
}

// blankAt makes a database with nothing in it.
func blankAt(t *testing.T, path string) string {
	t.Helper()
	db := must(sql.Open("sqlite", path))
	must(db.Exec("VACUUM"))
	do(t, db.Close())
	return path
}

// What is lost is never taken for a diary that is new.
func TestLostDiaryIsNotNew(t *testing.T) {
	dir := t.TempDir()
	for name, content := range map[string]string{"empty.db": "", "1.db": "S", "511.db": "SQLite format 3\x00" + strings.Repeat("\x00", 495)} {
		do(t, os.WriteFile(filepath.Join(dir, name), []byte(content), 0o600))
	}
	away := filepath.Join(dir, "not", "plugged", "in")
	do(t, os.Symlink(filepath.Join(away, "diary.db"), filepath.Join(dir, "link.db")), os.Symlink(away, filepath.Join(dir, "folder")),
		os.WriteFile(filepath.Join(dir, "away.db-wal"), []byte("commits"), 0o600))
	had := must(filepath.Glob(filepath.Join(dir, "*")))
	for name, want := range map[string]string{
		"empty.db": "empty or cut short", "1.db": "empty or cut short", "511.db": "empty or cut short",
		"away.db": "away.db-wal: look for it",
		"link.db": "link.db is a link that leads nowhere", filepath.Join("folder", "diary.db"): "folder is a link that leads nowhere",
	} {
		path := filepath.Join(dir, name)
		for _, open := range []func(string) (*Diary, error){Open, OpenExisting} {
			if _, err := open(path); !errors.As(err, new(*PlaceError)) || !strings.Contains(err.Error(), want) || !strings.Contains(err.Error(), path) {
				t.Errorf("%s: error %v, want the path and %q", path, err, want)
			}
		}
	}
	if got := must(filepath.Glob(filepath.Join(dir, "*"))); !slices.Equal(got, had) {
		t.Errorf("there is now %q", got)
	}
}

func TestOddPaths(t *testing.T) {
	for _, name := range []string{"a b", "50%", "why?mode=ro", "x#1", "[ab]", "ü"} {
		path := filepath.Join(t.TempDir(), name, name+".db")
		d := opened(t, path)
		begun(t, d, sample(time.Now())).Leave()
		if _, err := os.Stat(path); err != nil {
			t.Error(err)
		}
		if s := only(t, opened(t, path)); s.Outcome != sessions.Interrupted {
			t.Errorf("%s: outcome %q", path, s.Outcome)
		}
	}
}

func TestRefusesWhatIsNoDiary(t *testing.T) {
	dir := t.TempDir()
	text := filepath.Join(dir, "session.yaml")
	do(t, os.WriteFile(text, []byte(strings.Repeat("glidepace: 1\n", 100)), 0o600))
	other := filepath.Join(dir, "other.db")
	db := must(sql.Open("sqlite", other))
	must(db.Exec("CREATE TABLE shopping (item TEXT)"))
	do(t, db.Close())
	newer := filepath.Join(dir, "newer.db")
	d := opened(t, newer)
	must(d.db.Exec("PRAGMA user_version = 99"))
	do(t, d.Close())

	for path, want := range map[string]string{
		text:                               "not a diary of glidepace",
		other:                              "not a diary of glidepace",
		newer:                              "update glidepace",
		dir:                                "not a file",
		filepath.Join(text, "x.db"):        "",
		filepath.Join(text, "y", "x.db"):   "",
		filepath.Join(dir, "\x00", "x.db"): "",
	} {
		before, _ := os.ReadFile(path)
		for _, open := range []func(string) (*Diary, error){Open, OpenExisting} {
			_, err := open(path)
			if errors.As(err, new(*NoDiaryError)) {
				continue // on some systems there is nothing beneath a file, on others that is an error
			}
			if !errors.As(err, new(*PlaceError)) || !strings.Contains(err.Error(), want) || !strings.Contains(err.Error(), path) {
				t.Errorf("%s: error %v, want the path and %q", path, err, want)
			}
		}
		if after, _ := os.ReadFile(path); !bytes.Equal(before, after) {
			t.Errorf("%s was changed", path)
		}
	}
	if entries, _ := os.ReadDir(dir); len(entries) != 3 {
		t.Errorf("files were left beside those that were refused: %v", entries)
	}
}

// nextFormat makes the format one newer, until it is called or the test ends.
func nextFormat(t *testing.T) (back func()) {
	released := migrations
	back = func() { migrations = released }
	t.Cleanup(back)
	migrations = append(migrations[:len(migrations):len(migrations)], "ALTER TABLE sessions ADD COLUMN mood TEXT NOT NULL DEFAULT 'calm'")
	return back
}

func TestOlderDiaryIsBroughtUpToDate(t *testing.T) {
	for _, o := range bothWays {
		d := openedWith(t, o, filepath.Join(t.TempDir(), "diary.db"))
		do(t, begun(t, d, sample(time.Now())).End(ending(3)), d.Close())
		back := nextFormat(t)
		d = openedWith(t, o, d.path)
		if s := only(t, d); s.Done.Repetitions != 3 || pragma(t, d, "user_version") != fmt.Sprint(len(migrations)) {
			t.Errorf("%+v: after the change %+v", o, s)
		}
		must(d.db.Exec("UPDATE sessions SET mood = 'warm'"))
		do(t, begun(t, d, sample(time.Now())).End(ending(1)), d.Close())
		back()
		if _, err := o.Open(d.path); err == nil || !strings.Contains(err.Error(), "newer glidepace") {
			t.Errorf("%+v: opened by the older program: %v", o, err)
		}
	}
}

func TestSessionComesBackAsItWas(t *testing.T) {
	d := fresh(t)
	rapid.Check(t, func(t *rapid.T) {
		text := rapid.StringN(0, maxWord, -1).Filter(func(s string) bool { return !strings.Contains(s, "\x00") })
		count := rapid.IntRange(0, 1000)
		moment := rapid.Custom(func(t *rapid.T) time.Time {
			zone := time.FixedZone("", 60*rapid.IntRange(-14*60, 14*60).Draw(t, "offset"))
			return time.UnixMilli(rapid.Int64Range(0, 4e12).Draw(t, "ms")).In(zone)
		})
		span := rapid.Custom(func(t *rapid.T) time.Duration {
			return time.Duration(rapid.Int64Range(0, int64(24*time.Hour)).Draw(t, "ns"))
		})
		amount := rapid.Custom(func(t *rapid.T) Amount {
			return Amount{count.Draw(t, "sets"), count.Draw(t, "reps"), count.Draw(t, "breaths")}
		})
		want := Session{
			Title: text.Draw(t, "title"), Patient: text.Draw(t, "patient"), Prescription: text.Draw(t, "hash"),
			Started: moment.Draw(t, "started"), Planned: amount.Draw(t, "planned"),
			RateStart: rapid.Float64Range(3, 30).Draw(t, "from"), RateEnd: rapid.Float64Range(3, 30).Draw(t, "to"),
			Match: text.Draw(t, "match"), Sound: text.Draw(t, "sound"), Source: "paced", Extra: rapid.Bool().Draw(t, "extra"),
			Plan: text.Draw(t, "plan"),
		}
		r, err := d.Begin(&want)
		if err != nil {
			t.Fatal(err)
		}
		want.Events = []Event{{Kind: Started, Detail: want.Plan}}
		for range rapid.IntRange(0, 3).Draw(t, "events") {
			e := Event{At: span.Draw(t, "at"), Kind: Kind(rapid.StringMatching("[a-z0-9-]{0,40}").Draw(t, "kind")), Exercise: count.Draw(t, "exercise"),
				Side: text.Draw(t, "side"), Set: count.Draw(t, "set"), Rep: count.Draw(t, "rep"),
				Done: amount.Draw(t, "done"), Detail: text.Draw(t, "detail")}
			if err := r.Event(e); err != nil {
				t.Fatal(err)
			}
			want.Events = append(want.Events, e)
		}
		end := Ending{When: moment.Draw(t, "ended"), At: span.Draw(t, "length"),
			Outcome: sessions.EndedEarly, Done: amount.Draw(t, "done")}
		if err := r.End(end); err != nil {
			t.Fatal(err)
		}
		want.Ended, want.Length, want.Outcome, want.Done = end.When, end.At, end.Outcome, end.Done
		want.Events = append(want.Events, end.event())

		got, err := d.Show(want.ID)
		if err != nil {
			t.Fatal(err)
		}
		if !got.Started.Equal(want.Started) || !got.Ended.Equal(want.Ended) || got.Started.Format(time.RFC3339) != want.Started.Format(time.RFC3339) {
			t.Fatalf("times %v, %v; want %v, %v", got.Started, got.Ended, want.Started, want.Ended)
		}
		got.Started, got.Ended, want.Started, want.Ended = time.Time{}, time.Time{}, time.Time{}, time.Time{}
		if !reflect.DeepEqual(got, want) {
			t.Fatalf("got  %+v\nwant %+v", got, want)
		}
	})
}

func TestNewDiaryWaitsForAnotherProgram(t *testing.T) {
	path := filepath.Join(t.TempDir(), "diary.db")
	db := must(sql.Open("sqlite", Options{}.source(blankAt(t, path))))
	defer db.Close()
	tx := must(db.Begin()) // makes the file a diary, and is not done yet
	result := make(chan error)
	go func() {
		d, err := Open(path)
		if err == nil {
			d.Close()
		}
		result <- err
	}()
	select {
	case err := <-result:
		t.Errorf("opened while the file was taken: %v", err)
		tx.Rollback()
	case <-time.After(100 * time.Millisecond):
		do(t, tx.Rollback(), <-result)
	}
}

func TestSessionInPlainLines(t *testing.T) {
	s := sample(zoned(t, "Europe/Berlin", "2026-12-01 08:30:00"))
	s.ID, s.Length, s.Done, s.Outcome, s.Extra = "k000000000", 125*time.Second, Amount{0, 7, 8}, sessions.EndedEarly, true
	s.Events = []Event{{Kind: Started}, rep(1), {At: 75 * time.Second, Kind: Paused, Exercise: 1, Side: "right", Set: 1, Rep: 7}, {At: 125 * time.Second, Kind: Ended, Detail: "ended-early"}}
	const want = `session      k000000000
title        First week, right hand
patient      K-204
started      2026-12-01 08:30 +01:00
length       2:05
repetitions  7 of 10
breaths      8 of 11
sets         0 of 1
rate         12 to 8 breaths a minute
movement     exhale through the glide, one breath a repetition
sound        off
outcome      ended early
extra        beyond the dose
             0:00 started
             1:15 paused  exercise 1, set 1, repetition 7, right
             2:05 ended  ended-early
`
	if got := s.String(); got != want {
		t.Errorf("got\n%s\nwant\n%s", got, want)
	}
}
