package main

import (
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
)

// replaceFile gives a file new content and keeps the old one beside it, as
// NAME.bak, or NAME.bak.1 and so on where that is taken. The file has its old
// content or its new one at every moment, also if the machine goes down: the
// new one is written beside it, brought to the disk, and takes its name. Its
// permissions stay; a symbolic link is followed. It returns the name of the
// old one; where there is an error, nothing is changed and nothing left.
func replaceFile(name string, old, content []byte) (backup string, err error) {
	name, err = filepath.EvalSymlinks(name)
	if err != nil {
		return "", err
	}
	info, err := os.Stat(name)
	if err != nil {
		return "", err
	}
	dir, base := filepath.Split(name)
	next, err := os.CreateTemp(filepath.Clean(dir), "."+base+".*")
	if err != nil {
		return "", err
	}
	defer func() {
		if err != nil {
			os.Remove(next.Name())
		}
	}()
	if err := fill(next, content, info.Mode()); err != nil {
		return "", err
	}
	kept, err := createBackup(name)
	if err != nil {
		return "", err
	}
	defer func() {
		if err != nil {
			os.Remove(kept.Name())
		}
	}()
	if err := fill(kept, old, info.Mode()); err != nil {
		return "", err
	}
	if err := os.Rename(next.Name(), name); err != nil {
		return "", err
	}
	// The new name is on the disk when the folder is; not every system can
	// be asked for that.
	if d, err := os.Open(filepath.Clean(dir)); err == nil {
		d.Sync()
		d.Close()
	}
	return kept.Name(), nil
}

// createBackup creates the file that keeps the old content of the named one.
// It never takes a name that there is.
func createBackup(name string) (*os.File, error) {
	const most = 1000
	for i := range most {
		backup := name + ".bak"
		if i > 0 {
			backup = fmt.Sprintf("%s.bak.%d", name, i)
		}
		f, err := os.OpenFile(backup, os.O_WRONLY|os.O_CREATE|os.O_EXCL, 0o600)
		if err == nil || !errors.Is(err, fs.ErrExist) {
			return f, err
		}
	}
	return nil, fmt.Errorf("%s.bak and %d more are there: move some of them away", name, most-1)
}

// fill writes a new file and brings it to the disk.
func fill(f *os.File, content []byte, mode fs.FileMode) error {
	_, err := f.Write(content)
	return errors.Join(err, f.Chmod(mode.Perm()), f.Sync(), f.Close())
}
