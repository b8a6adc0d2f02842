//go:build unix

package diary

import (
	"glidepace/sessions"
	"io/fs"
	"os"
	"path/filepath"
	"syscall"
	"testing"
	"time"
)

func TestForItsOwnerAlone(t *testing.T) {
	old := syscall.Umask(0) // as lax as it can be
	defer syscall.Umask(old)
	dir := t.TempDir()
	blank := filepath.Join(dir, "blank.db")
	do(t, os.WriteFile(blank, nil, 0o666))
	for _, path := range []string{filepath.Join(dir, "state", "glidepace", "diary.db"), blank} {
		r := begun(t, opened(t, path), sample(time.Now()))
		for _, file := range []string{path, path + "-wal", path + "-shm", r.lock.Path()} {
			info := must(os.Stat(file))
			if info.Mode() != 0o600 {
				t.Errorf("%s has mode %v, want 0600", file, info.Mode())
			}
		}
	}
	for _, sub := range []string{"state", "state/glidepace"} {
		info := must(os.Stat(filepath.Join(dir, sub)))
		if info.Mode() != fs.ModeDir|0o700 {
			t.Errorf("folder %s has mode %v, want 0700", sub, info.Mode())
		}
	}
}

func TestInterruptLeavesNoLock(t *testing.T) {
	path := filepath.Join(t.TempDir(), "diary.db")
	c, lines := program(t, "signal", path)
	if lines.Scan(); lines.Text() != "running" {
		t.Fatalf("it said %q (%v)", lines.Text(), lines.Err())
	}
	do(t, c.Process.Signal(os.Interrupt), c.Wait())
	noLocks(t, path)
	s := only(t, opened(t, path))
	if s.Outcome != sessions.EndedEarly || s.Done.Repetitions != 1 {
		t.Errorf("%+v", s)
	}
}
