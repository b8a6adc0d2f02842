package safefile

import (
	"errors"
	"io/fs"
	"os"
	"path/filepath"
	"runtime"
	"strings"
	"testing"
)

func TestUpdate(t *testing.T) {
	dir := t.TempDir()
	name := filepath.Join(dir, "a.yaml")
	write := func(name, text string, mode fs.FileMode) {
		t.Helper()
		if err := errors.Join(os.WriteFile(name, []byte(text), mode), os.Chmod(name, mode)); err != nil {
			t.Fatal(err)
		}
	}
	read := func(name string) string {
		t.Helper()
		b, err := os.ReadFile(name)
		if err != nil {
			t.Fatal(err)
		}
		return string(b)
	}
	write(name, "one", 0o640)
	for i, want := range []string{"a.yaml.bak", "a.yaml.bak.1", "a.yaml.bak.2"} {
		old := read(name)
		kept, err := Update(name, []byte(old), []byte(old+"+"))
		if err != nil || filepath.Base(kept) != want {
			t.Fatalf("kept as %q (%v), want %q", kept, err, want)
		}
		if read(name) != old+"+" || read(kept) != old {
			t.Errorf("%d: the file has %q, the old one %q", i, read(name), read(kept))
		}
	}
	if got := read(filepath.Join(dir, "a.yaml.bak")); got != "one" {
		t.Errorf("the first old one has %q", got)
	}
	if runtime.GOOS != "windows" {
		for _, n := range []string{name, name + ".bak"} {
			if info, err := os.Stat(n); err != nil || info.Mode() != 0o640 {
				t.Errorf("%s has mode %v (%v), want 0640", n, info.Mode(), err)
			}
		}
		// A link stays one; what it leads to is changed, and kept there.
		elsewhere := t.TempDir()
		link := filepath.Join(elsewhere, "link.yaml")
		if err := os.Symlink(name, link); err != nil {
			t.Fatal(err)
		}
		kept, err := Update(link, []byte(read(name)), []byte("linked"))
		if err != nil || filepath.Base(kept) != "a.yaml.bak.3" || read(name) != "linked" {
			t.Errorf("through a link: kept as %q (%v), the file has %q", kept, err, read(name))
		}
		if info, err := os.Lstat(link); err != nil || info.Mode()&fs.ModeSymlink == 0 {
			t.Errorf("the link is one no more: %v, %v", info.Mode(), err)
		}
	}
	if _, err := Update(filepath.Join(dir, "none.yaml"), nil, nil); !errors.Is(err, fs.ErrNotExist) {
		t.Errorf("a file that is not there: %v", err)
	}
	// What cannot be replaced leaves nothing behind.
	folder := filepath.Join(dir, "a.yaml.d")
	if err := os.Mkdir(folder, 0o755); err != nil {
		t.Fatal(err)
	}
	if kept, err := Update(folder, []byte("old"), []byte("new")); err == nil || kept != "" {
		t.Errorf("a folder was replaced and kept as %q", kept)
	}
	if _, err := os.Stat(folder + ".bak"); !errors.Is(err, fs.ErrNotExist) {
		t.Errorf("an old one was kept of what was not replaced: %v", err)
	}
	entries, err := os.ReadDir(dir)
	if err != nil {
		t.Fatal(err)
	}
	for _, e := range entries {
		if !strings.HasPrefix(e.Name(), "a.yaml") {
			t.Errorf("%s was left behind", e.Name())
		}
	}
}
