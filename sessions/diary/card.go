//go:build !js

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
	"syscall"
)

// blankJournal overwrites in place what the rollback journal keeps of earlier
// states of the diary. A file that is removed or cut short would leave its
// content in the free space of the card, where no program can find it to wipe.
func (d *Diary) blankJournal() error {
	ctx := context.Background()
	conn, err := d.db.Conn(ctx)
	if err != nil {
		return err
	}
	defer conn.Close()
	// Now no program needs the journal, and none can begin one.
	if _, err := conn.ExecContext(ctx, "BEGIN EXCLUSIVE"); err != nil {
		return err
	}
	defer conn.ExecContext(ctx, "ROLLBACK")
	f, err := os.OpenFile(d.path+"-journal", os.O_WRONLY|syscall.O_NONBLOCK, 0)
	if errors.Is(err, fs.ErrNotExist) {
		return nil
	}
	if err == nil {
		var info fs.FileInfo
		if info, err = f.Stat(); err == nil {
			_, err = f.Write(make([]byte, info.Size()))
		}
		err = errors.Join(err, f.Sync(), f.Close())
	}
	if err != nil {
		return fmt.Errorf("diary %s: its journal cannot be blanked: %w", d.name, err)
	}
	return nil
}

// Files returns all files of a diary, the diary itself first: its journals, the
// locks of sessions, and the copy that a merge left if it was cut off (in a
// folder that ends in .merge). Once these are gone, nothing is left of the diary
// but what the disk keeps in its free space.
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
