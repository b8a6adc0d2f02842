//go:build unix

package diary

import (
	"errors"
	"io/fs"
	"os"
	"path/filepath"
	"syscall"
	"testing"
	"time"

	"glidepace/sessions/safefile"
)

func TestForItsOwnerAlone(t *testing.T) {
	old := syscall.Umask(0) // as lax as it can be
	defer syscall.Umask(old)
	dir := t.TempDir()
	blank := blankAt(t, filepath.Join(dir, "blank.db"))
	do(t, os.Chmod(blank, 0o666))
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

// Pipes beside a diary, as a card may have them, keep nobody waiting.
func TestPipesBesideADiary(t *testing.T) {
	into := fresh(t)
	for ending, read := range map[string]bool{"-journal": true, "-wal": true, ".a000000000.lock": false} {
		card, err := Options{Card: true}.Open(filepath.Join(t.TempDir(), "card.db"))
		do(t, err)
		begun(t, card, sample(time.Now())).Leave()
		do(t, card.Close())
		os.Remove(card.path + ending)
		do(t, syscall.Mkfifo(card.path+ending, 0o600))
		if _, err := into.Merge(card.path); (err == nil) == read || read && !errors.As(err, new(safefile.Refusal)) {
			t.Errorf("%s: %v", ending, err)
		}
	}
}
