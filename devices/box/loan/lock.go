package loan

import (
	"fmt"

	"github.com/gofrs/flock"
)

// lockCard keeps other programs from loading a card, or from bringing it back, until
// the lock is given up. The system frees the lock however the program ends. Where a
// folder cannot be locked there is none.
func lockCard(folder string) (*flock.Flock, error) {
	path, flag := lockFile(folder)
	lock := flock.New(path, flock.SetFlag(flag))
	if free, err := lock.TryLock(); !free && err == nil {
		return nil, fmt.Errorf("another program is at work on the card in %s: wait until it is done", folder)
	}
	return lock, nil
}
