package diary

import (
	"context"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"slices"
	"strings"
)

// Options say how a diary is kept. The zero value is for a disk of a computer.
type Options struct {
	// Card is for a memory card with a FAT file system, in a machine that may
	// be unplugged at any moment: a rollback journal that stays where it is
	// (PERSIST), commits as safe as ever (synchronous FULL), what is erased
	// overwritten (secure_delete), and a journal full of zeros after
	// [Diary.Close]. A diary that was kept the other way is changed over when
	// it is opened, and back again.
	Card bool

	// Committed, if not nil, is called by a [Recorder] for each event of its
	// session, in order, once it is committed. While it runs nothing more is
	// written; the session does not wait for it.
	Committed func(Event)
}

// blankJournal overwrites what the rollback journal keeps of earlier states of
// the diary, in place: a file that is removed or cut short leaves its content
// in the free space of the card, where nobody finds it again to wipe it. Its
// errors are SQLite's or the system's.
func (d *Diary) blankJournal() error {
	ctx := context.Background()
	conn, err := d.db.Conn(ctx)
	if err != nil {
		return err
	}
	defer conn.Close()
	// Now nobody needs the journal, and nobody begins one.
	if _, err := conn.ExecContext(ctx, "BEGIN EXCLUSIVE"); err != nil {
		return err
	}
	defer conn.ExecContext(ctx, "ROLLBACK")
	f, err := os.OpenFile(d.path+"-journal", os.O_WRONLY, 0)
	if errors.Is(err, fs.ErrNotExist) {
		return nil
	}
	if err != nil {
		return fmt.Errorf("diary %s: its journal cannot be blanked: %w", d.name, err)
	}
	info, err := f.Stat()
	if err == nil {
		_, err = f.Write(make([]byte, info.Size()))
	}
	if err = errors.Join(err, f.Sync(), f.Close()); err != nil {
		return fmt.Errorf("diary %s: its journal cannot be blanked: %w", d.name, err)
	}
	return nil
}

// Files returns all files of a diary that are there, the diary itself first:
// its journals, the locks of sessions, and what a merge into it left that was
// cut off (in a folder that ends in .merge). Without these nothing is left of it but what the disk keeps in its
// free space.
func Files(path string) ([]string, error) {
	entries, err := os.ReadDir(filepath.Dir(path))
	if err != nil {
		return nil, fmt.Errorf("diary %s: %w", path, err)
	}
	var list []string
	for _, e := range entries {
		_, lock := lockID(path, e.Name())
		rest, ours := strings.CutPrefix(e.Name(), filepath.Base(path))
		switch {
		case ours && rest == mergeFolder && e.IsDir():
			copies, err := os.ReadDir(path + mergeFolder)
			if err != nil {
				return nil, fmt.Errorf("diary %s: %w", path, err)
			}
			for _, c := range copies {
				list = append(list, filepath.Join(path+mergeFolder, c.Name()))
			}
		case lock, ours && slices.Contains([]string{"", "-journal", "-wal", "-shm", mergeLock}, rest):
			list = append(list, path+rest)
		}
	}
	return list, nil
}
