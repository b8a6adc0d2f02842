package loan

import (
	"errors"
	"io/fs"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"testing/fstest"

	"glidepace/devices/box"
	"glidepace/sessions/diary"
)

// A diary that is gone or blank is a loss, as after a power cut, and no blank
// sheet.
func TestLostDiary(t *testing.T) {
	for name, lose := range map[string]func(path string) error{
		"gone":  os.Remove,
		"blank": func(path string) error { return os.Truncate(path, 0) },
		"renamed by a repair": func(path string) error {
			found := filepath.Join(filepath.Dir(path), "FOUND.000")
			return errors.Join(os.Mkdir(found, 0o700), os.Rename(path, filepath.Join(found, "FILE0000.CHK")))
		},
	} {
		card, clinic := t.TempDir(), filepath.Join(t.TempDir(), "clinic.db")
		load(t, card, "K-204")
		use(t, card, "K-204")
		do(t, lose(filepath.Join(card, "diary.db")))
		before := snapshot(t, card)
		want := "go on with --without-diary"
		if name == "renamed by a repair" {
			want = "FILE0000.CHK may be it"
		}
		for range 2 {
			r, err := Back(card, clinic, false)
			if err == nil || !strings.Contains(err.Error(), "is gone or damaged; nothing was wiped") || !strings.Contains(err.Error(), want) || r.Merged {
				t.Errorf("%s: %v, %+v", name, err, r)
			}
			same(t, name, snapshot(t, card), before)
		}
		if name == "renamed by a repair" {
			do(t, os.Rename(filepath.Join(card, "FOUND.000", "FILE0000.CHK"), filepath.Join(card, "diary.db")))
			r, err := Back(card, clinic, false)
			do(t, err)
			if r.Added != 2 {
				t.Errorf("%+v", r)
			}
			continue
		}
		r, err := Back(card, clinic, true)
		do(t, err)
		if !r.NoDiary || !r.Merged {
			t.Errorf("%s: %+v", name, r)
		}
		same(t, name, names(snapshot(t, card)), []string{box.FileName})
	}
}

// What to do with a loan record that cannot be relied upon.
func TestDamagedRecord(t *testing.T) {
	card, clinic := t.TempDir(), filepath.Join(t.TempDir(), "clinic.db")
	load(t, card, "K-204")
	done := use(t, card, "K-204")
	record := filepath.Join(card, RecordName)
	refused := func(what string, wants ...string) {
		t.Helper()
		before := snapshot(t, card)
		r, err := Back(card, clinic, false)
		for _, want := range append(wants, "nothing was wiped") {
			if err == nil || !strings.Contains(err.Error(), want) {
				t.Errorf("%s: %v, want %q", what, err, want)
			}
		}
		if r.Merged {
			t.Errorf("%s: merged", what)
		}
		same(t, what, snapshot(t, card), before)
	}

	do(t, os.Rename(record, record+".kept"), os.Mkdir(record, 0o700))
	refused("a record that cannot be read", RecordName)
	do(t, os.Remove(record), os.WriteFile(record, []byte("glidepace-loan: 1\nstate: ou"), 0o600))
	do(t, os.Remove(filepath.Join(card, box.FileName)))
	refused("and no box file", "put the box's own there")
	do(t, os.WriteFile(filepath.Join(card, box.FileName), []byte(boxYAML+"diary: other.db\n"), 0o600))
	refused("a box file that names another diary", "diary.db is a diary that its box.yaml does not name", "write diary: diary.db")

	// Nothing of it remains when it is said which diary it is.
	do(t, os.WriteFile(filepath.Join(card, box.FileName), []byte(boxYAML), 0o600), os.Remove(record+".kept"))
	r, err := Back(card, clinic, false)
	do(t, err)
	if r.Record != nil || r.Added != 2 {
		t.Errorf("%+v", r)
	}
	same(t, "at the clinic", inDiary(t, clinic), done)

	do(t, os.WriteFile(record, []byte("glidepace-loan: 1\nstate: ou"), 0o600))
	refused("and no diary at all", "--without-diary")
}

// A file of the clinic's on the card that is to be loaded is never touched.
func TestLoadFromTheCard(t *testing.T) {
	card, l := t.TempDir(), sample("K-204")
	l.Source = filepath.Join(card, "session.yaml")
	for _, begun := range []bool{false, true} {
		if begun { // so that the file there is named by a record
			loan := &Record{Loading: true, Files: Files{Session: "session.yaml", Diary: "diary.db"}}
			do(t, os.WriteFile(filepath.Join(card, RecordName), loan.content(), 0o600))
		}
		do(t, os.WriteFile(l.Source, l.Session, 0o600))
		before := snapshot(t, card)
		if _, err := Load(card, l); err == nil || !strings.Contains(err.Error(), "move the file to a folder of yours") {
			t.Errorf("loaded from the place where it goes: %v", err)
		}
		same(t, "the card", snapshot(t, card), before)
	}
}

func TestWithCure(t *testing.T) {
	dir := t.TempDir()
	text := filepath.Join(dir, "text")
	do(t, os.WriteFile(text, []byte("not a diary, whatever else it is"), 0o600))
	for _, path := range []string{text, dir, filepath.Join(text, "x.db"), filepath.Join(dir, "\x00", "x.db")} {
		_, err := diary.Open(path)
		got := withCure(err, "see to the card")
		if err == nil || !strings.HasSuffix(got.Error(), "; see to the card") || !errors.Is(got, err) {
			t.Errorf("%v", got)
		}
	}
	for _, err := range []error{nil, errDamaged} {
		if got := withCure(err, "see to the card"); got != err {
			t.Errorf("%v", got)
		}
	}

	// What the loan of a card says never names it.
	card := filepath.Join(dir, "card")
	do(t, os.Mkdir(card, 0o700))
	load(t, card, "K-204")
	if _, err := Back(card, text, false); !errors.As(err, new(*diary.PlaceError)) || strings.Contains(err.Error(), "safe place") {
		t.Errorf("%v", err)
	}
	do(t, os.Rename(text, filepath.Join(card, "diary.db")))
	if _, err := Back(card, filepath.Join(dir, "clinic.db"), false); err == nil || !strings.Contains(err.Error(), "move it to a safe place") {
		t.Errorf("%v", err)
	}
	do(t, os.Remove(filepath.Join(card, RecordName)), os.Remove(filepath.Join(card, "session.yaml")), os.RemoveAll(filepath.Join(card, "spoken")))
	if _, err := Load(card, sample("K-204")); err == nil || !strings.Contains(err.Error(), "move it to a safe place") {
		t.Errorf("%v", err)
	}
}

// closed is a file system of which some files and folders cannot be read.
type closed struct {
	fstest.MapFS
	names []string
}

func (c closed) Open(name string) (fs.File, error) {
	if slices.Contains(c.names, name) {
		return nil, &fs.PathError{Op: "open", Path: name, Err: fs.ErrPermission}
	}
	return c.MapFS.Open(name)
}

func (c closed) ReadDir(name string) ([]fs.DirEntry, error) {
	if slices.Contains(c.names, name) {
		return nil, &fs.PathError{Op: "open", Path: name, Err: fs.ErrPermission}
	}
	return c.MapFS.ReadDir(name)
}

func TestWhatCannotBeRead(t *testing.T) {
	files := fstest.MapFS{
		".Trashes/501":  {},
		"a K-204":       {},
		"lost+found/#1": {Data: []byte("K-204")},
		"mark.txt":      {Data: []byte("K-204")},
		RecordName:      {Data: []byte("K-204")},
	}
	s := search{{"K-204", patientCode}}
	l, err := s.look(closed{files, []string{".Trashes", "a K-204", "lost+found"}}, limits{}, func(name string, _ fs.DirEntry) bool { return name == RecordName })
	do(t, err)
	same(t, "not looked into", l.unread, []string{".Trashes", "a K-204", "lost+found"})
	same(t, "traces", l.traces, []Trace{{"a K-204", patientCode, true}, {"mark.txt", patientCode, false}})
	if l.files != 1 {
		t.Errorf("looked through %d files", l.files)
	}
	if _, err := s.look(closed{files, []string{"."}}, limits{}, nothing); err == nil {
		t.Error("a card that cannot be read was looked through")
	}
}
