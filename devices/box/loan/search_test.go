package loan

import (
	"bytes"
	"io/fs"
	"os"
	"path/filepath"
	"slices"
	"testing"
	"testing/fstest"
)

// nothing is excepted from looking.
func nothing(string, fs.DirEntry) bool { return false }

// searchFor looks for patient codes.
func searchFor(codes ...string) (s search) {
	for _, code := range codes {
		s.add(code, patientCode)
	}
	return s
}

func TestStandsIn(t *testing.T) {
	for content, want := range map[string]bool{
		"12": true, " 12 ": true, "a_12.": true, "GPIO12": false, "123": false, "112": false, "112 12": true,
		"": false, "1": false, "é12": false, "12é": false, "\x0012\xff": true,
	} {
		if got := standsIn([]byte(content), "12"); got != want {
			t.Errorf("%q: %v", content, got)
		}
	}
}

// A short code is not looked for in programs and pictures, where it stands by
// chance.
func TestShortCodes(t *testing.T) {
	s := searchFor("12", "")
	s.add("ok", "a note")
	l, err := s.look(fstest.MapFS{"kernel.img": {Data: []byte("\x00 12 \x00")}, "config.txt": {Data: []byte("pin=12\n")}}, limits{}, nothing)
	do(t, err)
	same(t, "found", l.traces, []Trace{{"config.txt", patientCode, false}})
	if l.files != 2 || len(s) != 1 {
		t.Errorf("%d files, %v", l.files, s)
	}
}

// closed is a file system of which some files and folders cannot be read.
type closed struct {
	fs.FS
	names []string
}

func (c closed) Open(name string) (fs.File, error) {
	if slices.Contains(c.names, name) {
		return nil, &fs.PathError{Op: "open", Path: name, Err: fs.ErrPermission}
	}
	return c.FS.Open(name)
}

func TestWhatCannotBeRead(t *testing.T) {
	files := fstest.MapFS{
		".Trashes/501":  {},
		"a K-204":       {},
		"lost+found/#1": {Data: []byte("K-204")},
		"mark.txt":      {Data: []byte("K-204")},
		RecordName:      {Data: []byte("K-204")},
	}
	s := searchFor("K-204")
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

// The folders of the tests are no cards: their volume has the temporary files.
func TestNoVolume(t *testing.T) {
	for _, folder := range []string{t.TempDir(), os.TempDir(), filepath.Join(t.TempDir(), "absent")} {
		if got := volume(folder); got != "" {
			t.Errorf("%s is on the card %s", folder, got)
		}
	}
}

// Outside the card's folder texts are looked for that do not stand by chance in
// the system's files, with their full path.
func TestLookOutside(t *testing.T) {
	top := t.TempDir()
	card := filepath.Join(top, "glidepace")
	for name, text := range map[string]string{
		"glidepace/loan.yaml":             "K-204",
		"overlays/README":                 "pins 12 and 1204",
		".Trash-1000/files/session.yaml":  "patient: K-204",
		".Trash-1000/files/glidepace/old": "K-204",
	} {
		put(t, top, name, text)
	}
	s := searchFor("K-204", "12", "1204")
	l, err := s.lookOutside(top, card)
	do(t, err)
	if l, err := s.lookOutside(card, card); err != nil || l.files != 0 {
		t.Errorf("a folder that is all of its volume: %+v, %v", l, err)
	}
	bin := filepath.Join(top, ".Trash-1000", "files")
	same(t, "traces", l.traces, []Trace{{filepath.Join(bin, "glidepace", "old"), patientCode, false}, {filepath.Join(bin, "session.yaml"), patientCode, false}})
	if l.files != 3 || l.cut {
		t.Errorf("%+v", l)
	}
}

func TestLimits(t *testing.T) {
	files := fstest.MapFS{}
	for _, name := range []string{"a", "b", "c"} {
		files[name] = &fstest.MapFile{Data: bytes.Repeat([]byte("."), 10)}
	}
	for most, want := range map[limits]looked{
		{}:          {files: 3},
		{3, 10, 30}: {files: 3},
		{2, 10, 30}: {files: 2, cut: true},
		{3, 9, 30}:  {files: 0, cut: true},
		{3, 10, 29}: {files: 2, cut: true},
	} {
		l, err := searchFor("K-204").look(files, most, nothing)
		do(t, err)
		if l.files != want.files || l.cut != want.cut {
			t.Errorf("%+v: %d files, cut %v", most, l.files, l.cut)
		}
	}
}
