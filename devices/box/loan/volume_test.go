package loan

import (
	"bytes"
	"os"
	"path/filepath"
	"testing"
	"testing/fstest"
)

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
		name = filepath.Join(top, filepath.FromSlash(name))
		do(t, os.MkdirAll(filepath.Dir(name), 0o700), os.WriteFile(name, []byte(text), 0o600))
	}
	var s search
	for _, code := range []string{"K-204", "12", "1204"} {
		s.add(code, patientCode)
	}
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
		l, err := search{{"K-204", patientCode}}.look(files, most, nothing)
		do(t, err)
		if l.files != want.files || l.cut != want.cut {
			t.Errorf("%+v: %d files, cut %v", most, l.files, l.cut)
		}
	}
}
