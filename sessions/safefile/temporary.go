package safefile

import (
	"errors"
	"fmt"
	"io/fs"
	"math/rand/v2"
	"os"
	"path/filepath"
	"regexp"
	"sync"
)

// Nobody else gives a file such a name.
const temporary = ".glidepace-%08x.part"

var isTemporary = regexp.MustCompile(`^\.glidepace-[0-9a-f]{8}\.part$`)

// createTemp creates and locks a file with the permissions of any new file;
// os.CreateTemp would give it to its owner alone.
func createTemp(folder string) (*os.File, error) {
	tidyOnce(folder)
	for {
		name := filepath.Join(folder, fmt.Sprintf(temporary, rand.Uint32()))
		f, err := os.OpenFile(name, os.O_RDWR|os.O_CREATE|os.O_EXCL, 0o666)
		if errors.Is(err, fs.ErrExist) {
			continue
		} else if err != nil {
			return nil, err
		}
		lock(f)
		// Before it was locked, another process may have taken it for one left behind.
		if _, err := os.Stat(name); !errors.Is(err, fs.ErrNotExist) {
			return f, nil
		}
		f.Close()
	}
}

// folderEnd is the end of the name of a temporary folder, after that of a locked file
// beside it.
const folderEnd = ".d"

// TempFolder makes a folder among the system's temporary files. Remove removes it with
// all that is in it; if this process is killed, the next call removes it.
func TempFolder() (name string, remove func() error, err error) {
	f, err := createTemp(os.TempDir())
	if err != nil {
		return "", nil, err
	}
	name = f.Name() + folderEnd
	remove = func() error {
		err := os.RemoveAll(name)
		f.Close()
		if e := os.Remove(f.Name()); !errors.Is(e, fs.ErrNotExist) { // another process may have tidied it
			err = errors.Join(err, e)
		}
		return err
	}
	if err := os.Mkdir(name, 0o700); err != nil {
		return "", nil, errors.Join(err, remove())
	}
	return name, remove, nil
}

var (
	tidied   = map[string]bool{} // folders
	tidiedMu sync.Mutex
)

// tidyOnce tidies a folder the first time that this process writes there.
func tidyOnce(folder string) {
	tidiedMu.Lock()
	defer tidiedMu.Unlock()
	if !tidied[folder] {
		tidied[folder] = true
		tidy(folder)
	}
}

// tidy removes the files and the folders that programs left in a folder when they were
// killed. Those that are in use are locked and stay.
func tidy(folder string) {
	entries, _ := os.ReadDir(folder) // what cannot be read stays as it is
	for _, e := range entries {
		if e.Type().IsRegular() && isTemporary.MatchString(e.Name()) {
			removeUnlocked(filepath.Join(folder, e.Name()))
		}
	}
}
