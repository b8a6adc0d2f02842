package safefile

import (
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

// createBackup begins the file that keeps the old content, under a name that is
// free.
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
