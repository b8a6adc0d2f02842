package safefile

import (
	"bytes"
	"errors"
	"fmt"
	"os"
)

// Update gives a file new content and keeps the old one beside it, as NAME.bak,
// or as NAME.bak.1 and so on where that is taken. It keeps the permissions and
// follows a symbolic link. It returns the name of the old one. After an error
// nothing is changed and nothing is left behind.
func Update(name string, old, content []byte) (backup string, err error) {
	info, err := os.Stat(name)
	if err != nil {
		return "", err
	}
	next, err := create(name, true)
	if err != nil {
		return "", err
	}
	defer next.Discard()
	if _, err := next.Write(content); err != nil {
		return "", err
	}
	backup, kept, err := createBackup(next.Name(), old)
	if err != nil {
		return "", err
	}
	if kept == nil {
		return backup, Commit(next)
	}
	defer kept.Discard()
	if _, err := kept.Write(old); err != nil {
		return "", err
	}
	if err := kept.Chmod(info.Mode().Perm()); err != nil {
		return "", err
	}
	return backup, Commit(kept, next)
}

// createBackup begins the file that keeps the old content, under a name that is free.
// If a backup has that content already, it returns its name and no file: an update that
// was cut off may have left it.
func createBackup(name string, old []byte) (backup string, f *File, err error) {
	const most = 1000
	for i := range most {
		backup = name + ".bak"
		if i > 0 {
			backup = fmt.Sprintf("%s.bak.%d", name, i)
		}
		if there, err := Read(backup, int64(len(old))); err == nil && bytes.Equal(there, old) {
			return backup, nil, nil
		}
		f, err := Create(backup, false)
		if !errors.As(err, new(Refusal)) {
			return backup, f, err
		}
	}
	return "", nil, fmt.Errorf("%s.bak and %d more are there: move some of them away", name, most-1)
}
