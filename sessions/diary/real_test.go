//go:build real && linux

package diary

import (
	"context"
	"errors"
	"os"
	"path/filepath"
	"strings"
	"syscall"
	"testing"
	"time"

	"glidepace/sessions"
)

// A folder that cannot be written, even by root. Mounting it takes root.
func TestReadOnlyFileSystem(t *testing.T) {
	dir := t.TempDir()
	do(t, syscall.Mount("tmpfs", dir, "tmpfs", 0, "size=1m"))
	defer syscall.Unmount(dir, 0)
	path := filepath.Join(dir, "diary.db")
	d := opened(t, path)
	do(t, begun(t, d, sample(time.Now())).End(ending(1)), d.Close())
	do(t, syscall.Mount("tmpfs", dir, "tmpfs", syscall.MS_REMOUNT|syscall.MS_RDONLY, ""))
	for _, path := range []string{path, filepath.Join(dir, "new.db")} {
		r, trouble := recording(Options{}, path, time.Minute)
		r.Event(rep(1))
		r.End(ending(1))
		var lost *UnwrittenError
		if err := r.Close(context.Background()); !errors.As(err, &lost) || len(trouble) != 1 {
			t.Errorf("Close: %v, %d troubles", err, len(trouble))
		}
		if _, err := OpenExisting(path); err == nil || !strings.Contains(err.Error(), path) {
			t.Errorf("opened for reading: %v", err)
		}
		if err := <-trouble; !strings.Contains(err.Error(), path) || !errors.As(err, new(*PlaceError)) {
			t.Errorf("trouble: %v", err)
		}
	}
	clinic := fresh(t) // it can still be merged
	for _, want := range []int{1, 0} {
		if m, err := clinic.Merge(path); err != nil || len(m.Added) != want || len(m.There) != 1-want {
			t.Errorf("%s, %v", said(m), err)
		}
	}
}

// A small file system in memory that is really full. Mounting it takes root.
func TestFullFileSystem(t *testing.T) {
	dir := t.TempDir()
	do(t, syscall.Mount("tmpfs", dir, "tmpfs", 0, "size=512k"))
	defer syscall.Unmount(dir, 0)
	path, ballast := filepath.Join(dir, "diary.db"), filepath.Join(dir, "ballast")
	r, trouble := recording(Options{}, path, time.Minute)
	r.Event(rep(1))
	if err := os.WriteFile(ballast, make([]byte, 512<<10), 0o600); !errors.Is(err, syscall.ENOSPC) {
		t.Fatalf("the file system is not full: %v", err)
	}
	for n := 2; n <= 10; n++ {
		r.Event(rep(n))
	}
	if err := <-trouble; !strings.Contains(err.Error(), path) {
		t.Errorf("trouble: %v", err)
	}
	do(t, os.Remove(ballast)) // somebody makes room
	r.End(ending(10))
	do(t, r.Close(context.Background()))
	d := opened(t, path)
	if s := only(t, d); s.Outcome != sessions.Completed || len(s.Events) != 12 {
		t.Errorf("outcome %q, %d events", s.Outcome, len(s.Events))
	}
	noLocks(t, path)
	do(t, d.Close())
}

// Merging into a diary on a full disk changes nothing, wherever the space ends.
func TestMergeIntoAFullFileSystem(t *testing.T) {
	other := card(t, filepath.Join(t.TempDir(), "diary.db"))
	add(t, other, "a000000000", 400, true)
	do(t, other.Close())
	dir := t.TempDir()
	do(t, syscall.Mount("tmpfs", dir, "tmpfs", 0, "size=1m"))
	defer syscall.Unmount(dir, 0)
	clinic, ballast := opened(t, filepath.Join(dir, "clinic.db")), filepath.Join(dir, "ballast")
	add(t, clinic, "c000000000", 2, true)
	failed := 0
	for size := 960; ; size -= 16 {
		err := os.WriteFile(ballast, make([]byte, size<<10), 0o600)
		if err != nil && !errors.Is(err, syscall.ENOSPC) {
			t.Fatal(err)
		}
		m, err := clinic.Merge(other.path)
		do(t, os.Remove(ballast))
		if err == nil {
			if len(m.Added) != 1 {
				t.Errorf("%+v", m)
			}
			break
		}
		failed++
		if size == 0 {
			t.Fatal(err)
		}
		if list, err := clinic.List(Filter{}); err != nil || len(list) != 1 {
			t.Fatalf("with %d KB of ballast: %d sessions, %v", size, len(list), err)
		}
	}
	if failed < 3 {
		t.Errorf("it failed %d times", failed)
	}
	mergeAll(t, clinic, other.path, "//a")
	do(t, clinic.Close())
}

// With a little room left SQLite fails in many ways, but the cause is named.
func TestNearlyFullFileSystem(t *testing.T) {
	dir := t.TempDir()
	do(t, syscall.Mount("tmpfs", dir, "tmpfs", 0, "size=512k"))
	defer syscall.Unmount(dir, 0)
	path, ballast := filepath.Join(dir, "diary.db"), filepath.Join(dir, "ballast")
	d := opened(t, path)
	do(t, begun(t, d, sample(time.Now())).End(ending(1)), d.Close())
	failed := 0
	for left := 0; left <= 64; left += 4 {
		if err := os.WriteFile(ballast, make([]byte, 512<<10), 0o600); !errors.Is(err, syscall.ENOSPC) {
			t.Fatalf("the file system is not full: %v", err)
		}
		size := must(os.Stat(ballast)).Size()
		do(t, os.Truncate(ballast, size-int64(left)<<10))
		d, err := Open(path)
		if err == nil {
			if r, err2 := d.Begin(sample(time.Now())); err2 == nil {
				r.Leave()
			} else {
				err = err2
			}
			d.Close()
		}
		if err != nil {
			failed++
			if !strings.Contains(err.Error(), "the disk is full: free some space") {
				t.Errorf("with %d KB left: %v", left, err)
			}
		}
		do(t, os.Remove(ballast))
	}
	if failed < 3 {
		t.Errorf("it failed %d times", failed)
	}
}
