//go:build !js

package diary

import (
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"strings"
	"syscall"
	"time"

	"github.com/gofrs/flock"

	"glidepace/sessions"
)

// A running session holds a lock on the file DIARY.ID.lock, and whoever gets a
// lock may remove its file.

func lockPath(path, id string) string { return path + "." + id + ".lock" }

// lockID returns whose lock a file beside the diary is, by its name.
func lockID(path, name string) (id string, ok bool) {
	id, ours := strings.CutPrefix(name, filepath.Base(path)+".")
	id, lock := strings.CutSuffix(id, ".lock")
	return id, ours && lock && validID(id)
}

// lockIDs returns whose lock files are beside the diary at path.
func lockIDs(path string) (ids []string, err error) {
	files, err := os.ReadDir(filepath.Dir(path))
	for _, f := range files {
		if id, ok := lockID(path, f.Name()); ok {
			ids = append(ids, id)
		}
	}
	return ids, err
}

// tryLock returns the lock on the file at path, nil if another holds it. A lock
// counts only while that name still leads to its file: another program may have
// removed the file since it was opened. A pipe of that name is not waited for.
func tryLock(path string, flag int) (*flock.Flock, error) {
	for {
		lock := flock.New(path, flock.SetFlag(flag|syscall.O_NONBLOCK))
		if ok, err := lock.TryLock(); !ok || err != nil {
			return nil, err
		}
		mine, err := lock.Stat()
		there, err2 := os.Stat(path)
		if err == nil && err2 == nil && os.SameFile(mine, there) {
			return lock, nil
		}
		lock.Unlock()
	}
}

// hold takes the lock of a session that is about to begin.
func (d *Diary) hold(id string) (*flock.Flock, error) {
	path := lockPath(d.path, id)
	for range 100 {
		lock, err := tryLock(path, os.O_CREATE|os.O_RDWR)
		if err != nil {
			return nil, &PlaceError{d.name, "its lock cannot be taken: see to the rights and the space of its folder", err}
		}
		if lock != nil {
			return lock, nil
		}
		time.Sleep(time.Millisecond) // another program is checking whether the lock was left behind
	}
	return nil, fmt.Errorf("diary lock %s is held by another program: close that program", path)
}

// take takes the lock of a session that may have been cut off. Free says that no
// program holds it; lock is nil if there is no file.
func (d *Diary) take(id string) (lock *flock.Flock, free bool) {
	if !validID(id) { // no program holds a lock for it, and the name may lead anywhere
		return nil, true
	}
	lock, err := tryLock(lockPath(d.path, id), os.O_RDWR)
	return lock, lock != nil || errors.Is(err, fs.ErrNotExist)
}

// release gives up a lock and removes its file.
func release(lock *flock.Flock) {
	err := os.Remove(lock.Path())
	lock.Unlock()
	if err != nil && !errors.Is(err, fs.ErrNotExist) {
		os.Remove(lock.Path()) // some systems remove no open file
	}
}

// closeDead closes the sessions that were cut off and removes the lock files
// they left. Such a session ends with its last event, since nobody knows what
// came after. If this fails, as on a full or read-only disk, the diary can still
// be read, with these sessions as they were left.
func (d *Diary) closeDead() {
	ids, _ := d.ids("outcome = ''")
	locked, _ := lockIDs(d.path)
	for _, id := range append(ids, locked...) {
		lock, free := d.take(id)
		if !free {
			continue
		}
		d.db.Exec(`UPDATE sessions SET outcome = ?,
			ended = strftime('%Y-%m-%dT%H:%M:%fZ', started, length_s || ' seconds')
			WHERE id = ? AND outcome = ''`, sessions.Interrupted, id)
		if lock != nil {
			release(lock)
		}
	}
}

// nothingRuns returns an error if a session of the diary at path still runs.
func nothingRuns(path string) error {
	ids, err := lockIDs(path)
	if err != nil {
		return fmt.Errorf("diary %s: %w", path, err)
	}
	for _, id := range ids {
		lock, err := tryLock(lockPath(path, id), os.O_RDONLY)
		switch {
		case errors.Is(err, fs.ErrNotExist): // it has just ended
		case err != nil:
			return fmt.Errorf("diary %s: cannot tell whether session %s still runs: %w", path, id, err)
		case lock == nil:
			return fmt.Errorf("diary %s: session %s still runs: end it first", path, id)
		default:
			lock.Unlock()
		}
	}
	return nil
}
