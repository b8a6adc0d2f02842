package diary

import (
	"bytes"
	"database/sql"
	"errors"
	"fmt"
	"io/fs"
	"maps"
	"os"
	"path/filepath"
	"reflect"
	"slices"
	"strings"
	"testing"
	"time"

	"glidepace/sessions"
)

// add adds a session of so many repetitions, ended or not.
func add(t testing.TB, d *Diary, id string, reps int, ended bool) {
	t.Helper()
	s := sample(zoned(t, "Europe/Berlin", "2026-12-01 08:30:00"))
	s.ID, s.Plan = id, `{"reps":10}`
	r := begun(t, d, s)
	for n := 1; n <= reps; n++ {
		do(t, r.Event(rep(n)))
	}
	if ended {
		end := ending(reps)
		end.When = s.Started.Add(end.At)
		do(t, r.End(end), r.Event(Event{At: end.At + time.Minute}.With(Rating{AfterSession, sessions.Ratings{Tingling: of(1), Pain: of(0)}})))
	}
	r.Leave()
	// By whichever diary it is added to, it is the same session.
	must(d.db.Exec("UPDATE sessions SET diary = 'd000000000', place = ? WHERE id = ?", int(id[0]), id))
}

// everything is what a diary holds, column by column.
func everything(d *Diary) []string {
	var lines []string
	for _, table := range []string{"sessions ORDER BY id", "events ORDER BY session, seq",
		"kept_sessions ORDER BY id, version", "kept_events ORDER BY session, version, seq"} {
		rows := must(d.db.Query("SELECT * FROM " + table))
		columns := must(rows.Columns())
		for rows.Next() {
			values, to := make([]any, len(columns)), make([]any, len(columns))
			for i := range values {
				to[i] = &values[i]
			}
			check(rows.Scan(to...))
			lines = append(lines, fmt.Sprint(values))
		}
		check(rows.Err(), rows.Close())
	}
	return lines
}

// snapshot is all files of a folder, with their content and time.
func snapshot(t *testing.T, dir string) map[string]string {
	t.Helper()
	files := make(map[string]string)
	do(t, filepath.WalkDir(dir, func(path string, e fs.DirEntry, err error) error {
		if err != nil || e.IsDir() {
			return err
		}
		info, err := e.Info()
		if err != nil {
			return err
		}
		content, err := os.ReadFile(path)
		files[path] = fmt.Sprint(info.ModTime()) + string(content)
		return err
	}))
	return files
}

// said is what became of which sessions, by the first letters of their ids.
func said(m Merged) string {
	var text []string
	for _, list := range [][]Session{m.Added, m.Extended, m.There} {
		letters := ""
		for _, s := range list {
			letters += s.ID[:1]
		}
		text = append(text, letters)
	}
	return strings.Join(text, "/")
}

// onlyRead fails the test if a diary or its folder changes until it is called.
func onlyRead(t *testing.T, path string) (check func()) {
	before := snapshot(t, filepath.Dir(path))
	return func() {
		t.Helper()
		if !maps.Equal(snapshot(t, filepath.Dir(path)), before) {
			t.Error("the other diary was changed")
		}
	}
}

// mergeAll fails the test if a merge does not become what is wanted.
func mergeAll(t *testing.T, d *Diary, path, want string) Merged {
	t.Helper()
	defer onlyRead(t, path)()
	m, err := d.Merge(path)
	do(t, err)
	if got := said(m); got != want {
		t.Errorf("added/extended/there %s, want %s", got, want)
	}
	noneLeft(t, d)
	return m
}

func noneLeft(t *testing.T, d *Diary) {
	t.Helper()
	if left := must(filepath.Glob(d.path + ".merge*")); len(left) > 0 {
		t.Errorf("left beside the diary: %v", left)
	}
}

// refused fails the test if a merge changes anything.
func refused(t *testing.T, d *Diary, path string) error {
	t.Helper()
	had := everything(d)
	defer onlyRead(t, path)()
	m, err := d.Merge(path)
	if err == nil || said(m) != "//" || !slices.Equal(everything(d), had) {
		t.Errorf("merged (%s), error %v", said(m), err)
	}
	return err
}

func TestMergeTwiceChangesNothing(t *testing.T) {
	for _, o := range bothWays {
		path := filepath.Join(t.TempDir(), "card", "diary.db")
		other := must(o.Open(path))
		add(t, other, "a000000000", 10, true)
		add(t, other, "b000000000", 2, false) // was cut off
		must(other.Note("a000", "warm hands", time.Now()))
		must(other.Enter(Sheet{Repetitions: 10}, always(common()), []Tick{{Date: "2026-12-01", Number: 1, Repetitions: 10}}))
		do(t, other.Close())
		clinic := fresh(t)
		add(t, clinic, "d000000000", 3, true)

		m := must(clinic.Merge(path))
		if len(m.Added) != 3 || m.Extended != nil || m.There != nil {
			t.Errorf("%+v: %s", o, said(m))
		}
		had := everything(clinic)
		m = must(clinic.Merge(path))
		if len(m.There) != 3 || m.Added != nil || m.Extended != nil || !slices.Equal(everything(clinic), had) {
			t.Errorf("%+v, the second time: %s", o, said(m))
		}
		if s, err := clinic.Show("b000"); err != nil || s.Outcome != sessions.Interrupted || s.Done.Repetitions != 2 || s.Ended.Sub(s.Started) != 20*time.Second {
			t.Errorf("%+v, cut off: %+v, %v", o, s, err)
		}
		other = must(o.Open(path))
		for _, s := range m.There {
			want := must(other.Show(s.ID))
			if got, err := clinic.Show(s.ID); err != nil || !reflect.DeepEqual(got, want) {
				t.Errorf("%+v: got\n%+v\nwant\n%+v (%v)", o, got, want, err)
			}
		}
		do(t, other.Close())
	}
}

func TestMergeOfASessionThatWentOn(t *testing.T) {
	dir := t.TempDir()
	short, long := card(t, filepath.Join(dir, "1", "diary.db")), card(t, filepath.Join(dir, "2", "diary.db"))
	add(t, short, "a000000000", 2, false)
	add(t, short, "b000000000", 4, true)
	add(t, long, "a000000000", 4, true)
	add(t, long, "b000000000", 4, true)
	must(long.Note("b000", "said at the desk", time.Now()))
	do(t, short.Close(), long.Close())

	clinic := fresh(t)
	mergeAll(t, clinic, short.path, "ab//")
	must(clinic.Note("a000", "was cut off?", time.Now()))
	m := mergeAll(t, clinic, long.path, "/ab/")
	if s := m.Extended[0]; s.Outcome != sessions.Completed || s.Done.Repetitions != 4 || s.After.String() != "1/0" || len(s.Notes) != 1 {
		t.Errorf("%+v", s)
	}
	if s := m.Extended[1]; len(s.Notes) != 1 {
		t.Errorf("%+v", s)
	}
	had := everything(clinic)
	mergeAll(t, clinic, long.path, "//ab")
	mergeAll(t, clinic, short.path, "//ab") // an older copy takes nothing back
	if !slices.Equal(everything(clinic), had) {
		t.Error("what was merged again changed something")
	}
}

func TestConflictIsRefused(t *testing.T) {
	for name, c := range map[string]struct {
		mine, other int // repetitions
		change      string
	}{
		"other events":          {2, 2, "UPDATE events SET side = 'left' WHERE session = 'b000000000' AND seq = 1"},
		"another detail":        {2, 3, "UPDATE events SET detail = '{}' WHERE session = 'b000000000' AND seq = 0"},
		"another patient":       {2, 2, "UPDATE sessions SET patient = 'K-205' WHERE id = 'b000000000'"},
		"another start":         {2, 4, "UPDATE sessions SET started = NULL WHERE id = 'b000000000'"},
		"another outcome":       {2, 2, "UPDATE sessions SET reason = 'q pressed' WHERE id = 'b000000000'"},
		"each with more events": {4, 4, "DELETE FROM events WHERE session = 'b000000000' AND seq = 1; INSERT INTO events SELECT session, 99, at_s, 'mood', exercise, side, set_no, rep, done_sets, done_reps, done_breaths, detail FROM events WHERE session = 'b000000000' AND seq = 0"},
	} {
		clinic, other := fresh(t), card(t, filepath.Join(t.TempDir(), "diary.db"))
		add(t, clinic, "b000000000", c.mine, true)
		add(t, other, "a000000000", 2, true)
		add(t, other, "b000000000", c.other, true)
		if c.mine == c.other { // but for the change they are the same
			mergeAll(t, clinic, other.path, "a//b")
			must(clinic.db.Exec("DELETE FROM events WHERE session = 'a000000000'; DELETE FROM sessions WHERE id = 'a000000000'"))
		}
		must(other.db.Exec(c.change))
		do(t, other.Close())
		err := refused(t, clinic, other.path)
		var conflict *ConflictError
		if !errors.As(err, &conflict) || conflict.ID != "b000000000" || conflict.From != other.path || conflict.Into != clinic.path {
			t.Errorf("%s: error %v", name, err)
		}
	}
}

// hot returns a copy of a diary that was cut off in the middle of a commit: it
// has half of the changes in it, and the way back in its journal.
func hot(t *testing.T, d *Diary) string {
	t.Helper()
	must(d.db.Exec("PRAGMA cache_size = 1; PRAGMA cache_spill = 1"))
	dir := t.TempDir()
	undo := errors.New("undo")
	err := d.atomically(func(tx *sql.Tx) error {
		s := sample(time.Now())
		s.complete()
		must(insertSession(tx, s, s.opening()))
		for n := range 500 {
			e := rep(n + 1)
			e.Detail = strings.Repeat("x", 500)
			check(insertEvent(tx, s.ID, int64(n+1), e))
		}
		for _, f := range must(Files(d.path)) {
			if !strings.HasSuffix(f, "-shm") {
				check(os.WriteFile(filepath.Join(dir, filepath.Base(f)), must(os.ReadFile(f)), 0o600))
			}
		}
		return undo
	})
	if err != undo {
		t.Fatal(err)
	}
	return filepath.Join(dir, "diary.db")
}

func TestMergeOfADiaryThatWasCutOffInACommit(t *testing.T) {
	for _, o := range bothWays {
		other := must(o.Open(filepath.Join(t.TempDir(), "diary.db")))
		add(t, other, "a000000000", 10, true)
		path := hot(t, other)
		journal := must(os.ReadFile(path + map[bool]string{true: "-journal", false: "-wal"}[o.Card]))
		do(t, other.Close())
		if len(journal) < 1000 || len(strings.Trim(string(journal[:28]), "\x00")) == 0 {
			t.Fatalf("%+v: nothing was cut off", o)
		}
		clinic := fresh(t)
		mergeAll(t, clinic, path, "a//")
		mergeAll(t, clinic, path, "//a")
	}
}

func TestMergeOfAFolderThatCannotBeWritten(t *testing.T) {
	for _, o := range bothWays {
		dir := filepath.Join(t.TempDir(), "card")
		other := must(o.Open(filepath.Join(dir, "diary.db")))
		add(t, other, "a000000000", 2, false)
		do(t, other.Close())
		for _, f := range must(Files(other.path)) {
			do(t, os.Chmod(f, 0o400))
		}
		do(t, os.Chmod(dir, 0o500))
		if m := mergeAll(t, fresh(t), other.path, "a//"); m.Added[0].Outcome != sessions.Interrupted {
			t.Errorf("%+v: %+v", o, m.Added[0])
		}
		do(t, os.Chmod(dir, 0o700))
	}
}

func TestMergeOfAnOlderDiary(t *testing.T) {
	other := card(t, filepath.Join(t.TempDir(), "diary.db"))
	add(t, other, "a000000000", 2, true)
	do(t, other.Close())
	back := nextFormat(t)
	clinic := fresh(t)
	mergeAll(t, clinic, other.path, "a//")
	var mood string
	do(t, clinic.db.QueryRow("SELECT mood FROM sessions").Scan(&mood))
	if mood != "calm" {
		t.Errorf("mood %q", mood)
	}
	do(t, clinic.Close())
	back()
	if err := refused(t, fresh(t), clinic.path); err == nil || !strings.Contains(err.Error(), "newer glidepace") || !strings.Contains(err.Error(), clinic.path) {
		t.Errorf("of a newer one: %v", err)
	}
}

func TestMergeRefusesWhatItCannotTrust(t *testing.T) {
	clinic := fresh(t)
	add(t, clinic, "a000000000", 2, true)
	dir := t.TempDir()
	write := func(name string, content []byte) string {
		path := filepath.Join(dir, name)
		do(t, os.WriteFile(path, content, 0o600))
		return path
	}
	link := filepath.Join(dir, "link.db")
	do(t, os.Symlink(clinic.path, link))
	sound := card(t, filepath.Join(dir, "sound.db"))
	add(t, sound, "b000000000", 200, false)
	do(t, sound.Close())
	damaged := must(os.ReadFile(sound.path))
	copy(damaged[len(damaged)/2:], make([]byte, 4096))
	running := card(t, filepath.Join(dir, "running.db"))
	t.Cleanup(begun(t, running, sample(time.Now())).Leave)
	const none = "no diary yet"
	for path, want := range map[string]string{
		filepath.Join(dir, "none.db"): none, blankAt(t, filepath.Join(dir, "blank.db")): none, write("empty.db", nil): "empty or cut short", write("cut.db", []byte("S")): "empty or cut short",
		write("text", bytes.Repeat([]byte("glidepace: 1\n"), 100)): "not a diary of glidepace",
		dir: "not a file", link: "into itself", write("damaged.db", damaged): "damaged", running.path: "still runs",
	} {
		err := refused(t, clinic, path)
		if err == nil || !strings.Contains(err.Error(), want) || !strings.Contains(err.Error(), path) || errors.As(err, new(*NoDiaryError)) != (want == none) {
			t.Errorf("%s: error %v, want the path and %q", path, err, want)
		}
	}
	noneLeft(t, clinic)
}

// Every column either lasts or changes.
func TestColumnsOfAMerge(t *testing.T) {
	var columns []string
	for _, c := range strings.Split(lasting+","+changing, ",") {
		columns = append(columns, strings.Trim(c, " \n\t\""))
	}
	var have []string
	do(t, each(fresh(t).db, func(r *row) { have = append(have, r.text("name", maxText)) }, "SELECT name FROM pragma_table_info('sessions')"))
	slices.Sort(columns)
	slices.Sort(have)
	if !slices.Equal(columns, have) {
		t.Errorf("%v, the table has %v", columns, have)
	}
}
