//go:build unix

package safefile

import (
	"errors"
	"io/fs"
	"os"
	"path/filepath"
	"strings"
	"syscall"
	"testing"
)

func TestOnlyFilesAreRead(t *testing.T) {
	dir := t.TempDir()
	at := func(name string) string { return filepath.Join(dir, name) }
	put(t, at("file"), strings.Repeat("x", 1<<10))
	must(t, syscall.Mkfifo(at("pipe"), 0o600))
	for name, to := range map[string]string{"link": "file", "zero": "/dev/zero", "link to pipe": "pipe", "nowhere": "absent"} {
		must(t, os.Symlink(to, at(name)))
	}
	for _, name := range []string{"file", "link"} {
		if b, err := Read(at(name), 1<<10); err != nil || len(b) != 1<<10 {
			t.Errorf("%s: %d bytes, %v", name, len(b), err)
		}
	}
	for name, want := range map[string]string{
		"pipe": "not a file", "zero": "not a file", "link to pipe": "not a file", ".": "is a folder",
	} {
		_, err := Read(at(name), 1<<10)
		if !errors.As(err, new(Refusal)) || !strings.Contains(err.Error(), want) {
			t.Errorf("%s: %v", name, err)
		}
	}
	for _, name := range []string{"nowhere", "absent"} {
		if _, err := Open(at(name)); !errors.Is(err, fs.ErrNotExist) {
			t.Errorf("%s: %v", name, err)
		}
	}
}

func TestLargeFilesAreNotRead(t *testing.T) {
	name := filepath.Join(t.TempDir(), "large")
	put(t, name, "")
	must(t, os.Truncate(name, 5<<30)) // a file with a hole takes no room
	for most, want := range map[int64]string{64 << 10: "large is larger than 64 KB", 3 << 20: "large is larger than 3 MB"} {
		if _, err := Read(name, most); !errors.As(err, new(*TooLargeError)) || !strings.HasSuffix(err.Error(), want) {
			t.Errorf("%v, want %q", err, want)
		}
	}
}
