package diary

import (
	"bytes"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"
)

// pragma is a setting of an open diary.
func pragma(t *testing.T, d *Diary, name string) (value string) {
	t.Helper()
	do(t, d.db.QueryRow("PRAGMA "+name).Scan(&value))
	return value
}

func names(t *testing.T, path string) (list []string) {
	t.Helper()
	files := must(Files(path))
	for _, f := range files {
		if filepath.Dir(f) != filepath.Dir(path) {
			f = filepath.Base(filepath.Dir(f)) + "/" + filepath.Base(f)
		}
		list = append(list, filepath.Base(f))
	}
	return list
}

func TestHowADiaryIsKept(t *testing.T) {
	path := filepath.Join(t.TempDir(), "card", "diary.db")
	do(t, card(t, path).Close()) // blank
	if got := names(t, path); !slices.Equal(got, []string{"diary.db", "diary.db-journal"}) {
		t.Errorf("files %v", got)
	}
	// Source of the figures: sqlite.org/pragma.html, synchronous: 2 is FULL.
	for i, c := range []struct {
		options                   Options
		journal, synchronous, del string
	}{
		{Options{}, "wal", "2", "0"},
		{Options{Card: true}, "persist", "2", "1"},
		{Options{}, "wal", "2", "0"},
		{Options{Card: true}, "persist", "2", "1"},
	} {
		d := must(c.options.Open(path))
		got := []string{pragma(t, d, "journal_mode"), pragma(t, d, "synchronous"), pragma(t, d, "secure_delete")}
		if want := []string{c.journal, c.synchronous, c.del}; !slices.Equal(got, want) {
			t.Errorf("%+v: %v, want %v", c.options, got, want)
		}
		r := begun(t, d, sample(time.Now()))
		do(t, r.Event(rep(1)), r.End(ending(1)))
		list := must(d.List(Filter{}))
		do(t, d.Close())
		if len(list) != i+1 {
			t.Errorf("opened %d times, %d sessions", i+1, len(list))
		}
	}
}

func TestJournalKeepsNoTrace(t *testing.T) {
	path := filepath.Join(t.TempDir(), "diary.db")
	d := card(t, path)
	journal := path + "-journal"
	r := begun(t, d, sample(time.Now()))
	do(t, r.Event(rep(1)), r.End(ending(1)))
	before := must(os.ReadFile(journal))
	if !bytes.Contains(before, []byte("K-204")) {
		t.Fatal("the journal held no patient code: this shows nothing")
	}
	do(t, d.Close())
	after := must(os.ReadFile(journal))
	if len(after) != len(before) || len(bytes.Trim(after, "\x00")) > 0 {
		t.Errorf("the journal has %d bytes, not all of them zero; it had %d", len(after), len(before))
	}
	d = card(t, path)
	do(t, begun(t, d, sample(time.Now())).End(ending(1)))
	if list, err := d.List(Filter{}); err != nil || len(list) != 2 {
		t.Errorf("afterwards: %d sessions, %v", len(list), err)
	}
}

func TestFilesOfADiary(t *testing.T) {
	dir := t.TempDir()
	path := filepath.Join(dir, "diary.db")
	d := opened(t, path)
	s := sample(time.Now())
	s.ID = "k000000000"
	begun(t, d, s)
	for _, other := range []string{"diary.dbx", "diary.db.bak", "diary.db.short.lock", "other.db", "a-diary.db", "xdiary.db.k000000000.lock"} {
		do(t, os.WriteFile(filepath.Join(dir, other), nil, 0o600))
	}
	do(t, os.Mkdir(path+mergeFolder, 0o700), os.WriteFile(filepath.Join(path+mergeFolder, "diary.db"), nil, 0o600))
	want := []string{"diary.db", "diary.db-shm", "diary.db-wal", "diary.db.k000000000.lock", "diary.db"}
	if got := names(t, path); !slices.Equal(got, want) {
		t.Errorf("%v, want %v", got, want)
	}
	if _, err := Files(filepath.Join(dir, "none", "diary.db")); err == nil || !strings.Contains(err.Error(), "none") {
		t.Errorf("in no folder: %v", err)
	}
}
