package safefile

import (
	"errors"
	"io/fs"
	"os"
	"path/filepath"
	"runtime"
	"testing"
)

// wantUpdated adds a + to a file, whose old content is to be kept under a name
// beside it.
func wantUpdated(t *testing.T, name, old, kept string) {
	t.Helper()
	got, err := Update(name, []byte(old), []byte(old+"+"))
	if err != nil || filepath.Base(got) != kept {
		t.Fatalf("kept as %q (%v), want %q", got, err, kept)
	}
	want(t, name, old+"+")
	want(t, got, old)
}

func TestUpdate(t *testing.T) {
	dir := t.TempDir()
	name := filepath.Join(dir, "a.yaml")
	put(t, name, "one")
	must(t, os.Chmod(name, 0o640))
	wantUpdated(t, name, "one", "a.yaml.bak")
	wantUpdated(t, name, "one+", "a.yaml.bak.1")
	wantUpdated(t, name, "one++", "a.yaml.bak.2")
	want(t, name+".bak", "one")
	wantFolder(t, dir, "a.yaml", "a.yaml.bak", "a.yaml.bak.1", "a.yaml.bak.2")
	// One that was cut off has kept the old content, and has not replaced it.
	must(t, os.WriteFile(name, []byte("one+"), 0o640))
	wantUpdated(t, name, "one+", "a.yaml.bak.1")
	must(t, os.WriteFile(name, []byte("one+++"), 0o640))
	wantFolder(t, dir, "a.yaml", "a.yaml.bak", "a.yaml.bak.1", "a.yaml.bak.2")
	if runtime.GOOS == "windows" {
		return
	}
	if a, b := mode(t, name), mode(t, name+".bak"); a != 0o640 || b != 0o640 {
		t.Errorf("the file has mode %v, the old one %v; want 0640", a, b)
	}
	// A link stays one; what it leads to is changed, and kept there.
	link := filepath.Join(t.TempDir(), "link.yaml")
	must(t, os.Symlink(name, link))
	wantUpdated(t, link, "one+++", "a.yaml.bak.3")
	if info, err := os.Lstat(link); err != nil || info.Mode()&fs.ModeSymlink == 0 {
		t.Errorf("the link is one no more: %v, %v", info.Mode(), err)
	}
}

// What cannot be replaced leaves nothing behind.
func TestUpdateOfNoFile(t *testing.T) {
	dir := t.TempDir()
	if _, err := Update(filepath.Join(dir, "none.yaml"), nil, nil); !errors.Is(err, fs.ErrNotExist) {
		t.Errorf("a file that is not there: %v", err)
	}
	folder := filepath.Join(dir, "a.yaml.d")
	must(t, os.Mkdir(folder, 0o755))
	if kept, err := Update(folder, []byte("old"), []byte("new")); err == nil || kept != "" {
		t.Errorf("a folder was replaced and kept as %q", kept)
	}
	wantFolder(t, dir, "a.yaml.d")
}
