package diary

import (
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"strings"
	"time"

	"github.com/gofrs/flock"
)

// A running session holds a lock on DIARY.ID.lock. Whoever gets a lock may
// remove its file; whoever wants to keep one looks afterwards whether the file
// is still the one at that name.

func (d *Diary) lockPath(id string) string { return d.path + "." + id + ".lock" }

// hold takes the lock of a session that is about to begin.
func (d *Diary) hold(id string) (*flock.Flock, error) {
	path := d.lockPath(id)
	for range 100 {
		lock := flock.New(path)
		ok, err := lock.TryLock()
		if err != nil {
			return nil, fmt.Errorf("diary lock %s cannot be taken: %w; see to the rights and the space of that folder, or choose another with --diary FILE", path, err)
		}
		if ok {
			mine, err := lock.Stat()
			there, err2 := os.Stat(path)
			if err == nil && err2 == nil && os.SameFile(mine, there) {
				return lock, nil
			}
			lock.Unlock()
		}
		time.Sleep(time.Millisecond) // another program looks whether this lock is a leftover; it is quick
	}
	return nil, fmt.Errorf("diary lock %s is held by another program: close that program", path)
}

// letGo gives up a lock and removes its file.
func letGo(lock *flock.Flock) {
	err := os.Remove(lock.Path())
	lock.Unlock()
	if err != nil {
		os.Remove(lock.Path()) // some systems remove no open file
	}
}

// take takes the lock of a session if nobody holds it. The lock is nil where
// there is no file: then nobody does.
func (d *Diary) take(id string) (lock *flock.Flock, free bool) {
	lock = flock.New(d.lockPath(id), flock.SetFlag(os.O_RDONLY))
	ok, err := lock.TryLock()
	if errors.Is(err, fs.ErrNotExist) {
		return nil, true
	}
	return lock, ok && err == nil
}

// closeDead closes the sessions that were cut off and removes the lock files
// they left. A session ends when its last event happened: what came after that
// nobody knows. Where that fails, on a full or a read-only disk, the diary can
// still be read, with such sessions as they were left.
func (d *Diary) closeDead() {
	ids, _ := d.ids("outcome = ''")
	files, _ := os.ReadDir(filepath.Dir(d.path))
	for _, f := range files {
		id, ours := strings.CutPrefix(f.Name(), filepath.Base(d.path)+".")
		id, lock := strings.CutSuffix(id, ".lock")
		if ours && lock && len(id) == idLength {
			ids = append(ids, id)
		}
	}
	for _, id := range ids {
		lock, free := d.take(id)
		if !free {
			continue
		}
		d.db.Exec(`UPDATE sessions SET outcome = ?,
			ended = strftime('%Y-%m-%dT%H:%M:%fZ', started, length_s || ' seconds')
			WHERE id = ? AND outcome = ''`, Interrupted, id)
		if lock != nil {
			letGo(lock)
		}
	}
}
