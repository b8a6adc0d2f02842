//go:build unix

package clips

import (
	"os"
	"path/filepath"
	"strings"
	"syscall"
	"testing"
)

// What is no file could keep a session waiting for ever.
func TestReadOnlyFiles(t *testing.T) {
	folder := t.TempDir()
	pipe, zero := filepath.Join(folder, "pipe.wav"), filepath.Join(folder, "zero.wav")
	if err := syscall.Mkfifo(pipe, 0o600); err != nil {
		t.Fatal(err)
	}
	if err := os.Symlink("/dev/zero", zero); err != nil {
		t.Fatal(err)
	}
	for _, path := range []string{pipe, zero} {
		if _, err := readFile(path); err == nil || !strings.Contains(err.Error(), "not a file") {
			t.Errorf("%s: %v", path, err)
		}
	}
}
