package safefile

import (
	"errors"
	"fmt"
	"os"
)

// Update gives a file new content and keeps the old one beside it, as
// NAME.bak, or NAME.bak.1 and so on where that is taken. Its permissions stay; a
// symbolic link is followed. It returns the name of the old one; where there is
// an error, nothing is changed and nothing left.
func Update(name string, old, content []byte) (backup string, err error) {
	info, err := os.Stat(name)
	if err != nil {
		return "", err
	}
	next, err := Create(name, true)
	if err != nil {
		return "", err
	}
	defer next.Discard()
	kept, err := createBackup(next.Name())
	if err != nil {
		return "", err
	}
	defer kept.Discard()
	_, errNext := next.Write(content)
	_, errKept := kept.Write(old)
	if err := errors.Join(errNext, errKept, kept.Chmod(info.Mode().Perm())); err != nil {
		return "", err
	}
	return kept.Name(), Commit(kept, next)
}

// createBackup creates the file that keeps the old content of the named one.
// It never takes a name that there is.
func createBackup(name string) (*File, error) {
	const most = 1000
	for i := range most {
		backup := name + ".bak"
		if i > 0 {
			backup = fmt.Sprintf("%s.bak.%d", name, i)
		}
		f, err := Create(backup, false)
		if !errors.As(err, new(Refusal)) {
			return f, err
		}
	}
	return nil, fmt.Errorf("%s.bak and %d more are there: move some of them away", name, most-1)
}
