package loan

import (
	"bytes"
	"fmt"
	"io/fs"
	"maps"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"testing/fstest"

	"pgregory.net/rapid"
)

// nothing is excepted from looking.
func nothing(string, fs.DirEntry) bool { return false }

// searchFor looks for patient codes.
func searchFor(codes ...string) search {
	s := search{}
	for _, code := range codes {
		s.add(code, patientCode)
	}
	return s
}

// finds returns whether a content has one of the codes.
func finds(t *testing.T, content string, codes ...string) bool {
	t.Helper()
	found, err := newFinder(searchFor(codes...)).in(strings.NewReader(content))
	do(t, err)
	return found[patientCode]
}

func TestWholeWords(t *testing.T) {
	for content, want := range map[string]bool{
		"12": true, " 12 ": true, "a_12.": true, "GPIO12": false, "123": false, "112": false, "112 12": true,
		"": false, "1": false, "é12": false, "12é": false, "12\xff": true,
	} {
		if got := finds(t, content, "12"); got != want {
			t.Errorf("%q: %v", content, got)
		}
	}
}

// A file is read in pieces: wherever one ends, it is known what stands before and
// after a text.
func TestPieces(t *testing.T) {
	for n := range 80 {
		space := strings.Repeat(".", 1<<20-40+n)
		for text, want := range map[string]bool{"K-204": true, "éK-204": false, "K-204é": false} {
			if got := finds(t, space+text+space, "K-204"); got != want {
				t.Errorf("%s after %d bytes: %v", text, len(space), got)
			}
		}
	}
}

// Many texts that begin alike are found as each would be by itself.
func TestManyTexts(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		text := rapid.StringOfN(rapid.SampledFrom([]rune("a- é")), 1, 6, -1)
		texts, content := rapid.SliceOfN(text, 1, 20).Draw(t, "texts"), rapid.StringOfN(rapid.SampledFrom([]rune("a- é")), 0, 30, -1).Draw(t, "content")
		all := search{}
		for i, text := range texts {
			all[wanted{text, fmt.Sprint(i)}] = true
		}
		for _, w := range slices.Collect(maps.Keys(all)) {
			all, err := newFinder(all).in(strings.NewReader(content))
			alone, err2 := newFinder(search{w: true}).in(strings.NewReader(content))
			if err != nil || err2 != nil || all[w.what] != alone[w.what] {
				t.Fatalf("%q in %q: %v among others, %v alone; %v, %v", w.text, content, all[w.what], alone[w.what], err, err2)
			}
		}
	})
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

// BenchmarkLook looks for what a diary of so many sessions tells in 16 MB of text.
func BenchmarkLook(b *testing.B) {
	files := fstest.MapFS{"log": {Data: bytes.Repeat([]byte("pins 12 and 1204, code K-999; "), 16<<20/30)}}
	for _, sessions := range []int{1_000, 10_000, 1_000_000} {
		b.Run(fmt.Sprint(sessions), func(b *testing.B) {
			for b.Loop() {
				s := searchFor("K-204")
				for i := range sessions {
					s.add(fmt.Sprintf("c%09d", i*7919), "the ID of a session")
				}
				if l, err := s.look(files, limits{}, nothing); err != nil || l.traces != nil {
					b.Fatal(l, err)
				}
			}
		})
	}
}
