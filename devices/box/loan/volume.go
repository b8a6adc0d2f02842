package loan

import (
	"fmt"
	"io/fs"
	"iter"
	"maps"
	"os"
	"path/filepath"
)

// The volume is the part of a memory card that a computer shows as one: the
// card's folder may be all of it, or a folder on it. What somebody copied beside
// that folder, or threw into the volume's bin, is a trace too. It is only
// reported, never wiped: nobody but its owner knows what it is.

// limits say when looking ends, so that nobody waits for the folder of a big
// disk that was taken for a card's. The zero value is no limit.
type limits struct {
	files        int
	single, size int64 // of one file, of all; in bytes
}

// A boot partition has some hundred files of some ten megabytes in all.
var ofVolume = limits{files: 5000, single: 64 << 20, size: 512 << 20}

// upward goes through a folder and those above it.
func upward(dir string) iter.Seq[string] {
	return func(yield func(string) bool) {
		for yield(dir) && dir != filepath.Dir(dir) {
			dir = filepath.Dir(dir)
		}
	}
}

// volume returns the top folder of the volume that a folder is on; "" where that
// is not known, or is no card's: a volume that has the system, the home folder
// or the temporary files.
func volume(folder string) string {
	dir, err := filepath.Abs(folder)
	if err == nil {
		dir, err = filepath.EvalSymlinks(dir)
	}
	if err != nil {
		return ""
	}
	home, _ := os.UserHomeDir()
	for _, other := range []string{"/", home, os.TempDir()} {
		if sameVolume(dir, other) {
			return ""
		}
	}
	top := ""
	for d := range upward(dir) {
		if !sameVolume(d, folder) {
			break
		}
		top = d
	}
	return top
}

// sameFolder reports whether two paths lead to one folder, by whatever names.
func sameFolder(a, b string) bool {
	one, err := os.Stat(a)
	other, err2 := os.Stat(b)
	return err == nil && err2 == nil && os.SameFile(one, other)
}

// checkOutside returns an error where the clinic's diary is, or would be, on the
// card.
func (c *card) checkOutside(clinic string) error {
	path, err := filepath.Abs(clinic)
	if err != nil {
		return err
	}
	for dir := range upward(path) {
		real, err := filepath.EvalSymlinks(dir)
		if err != nil {
			continue // it is not there yet
		}
		onCard := volume(c.dir) != "" && sameVolume(real, c.dir)
		for above := range upward(real) {
			onCard = onCard || sameFolder(above, c.dir)
		}
		if onCard {
			return fmt.Errorf("the clinic's diary %s would be on the card: keep it in another place", clinic)
		}
		break
	}
	return nil
}

// lookOutside looks for traces on the volume, outside the card's folder. Texts
// that may stand by chance in the system's files there are not looked for.
func (s search) lookOutside(volume, folder string) (l looked, err error) {
	if volume == "" || sameFolder(volume, folder) {
		return l, nil
	}
	card, err := os.Stat(folder)
	if err != nil {
		return l, err
	}
	distinct := maps.Clone(s)
	maps.DeleteFunc(distinct, func(w wanted, _ bool) bool { return len(w.text) < long })
	l, err = distinct.look(os.DirFS(volume), ofVolume, func(_ string, e fs.DirEntry) bool {
		info, err := e.Info()
		return err == nil && os.SameFile(card, info)
	})
	for i, t := range l.traces {
		l.traces[i].File = filepath.Join(volume, filepath.FromSlash(t.File))
	}
	for i, name := range l.unread {
		l.unread[i] = filepath.Join(volume, filepath.FromSlash(name))
	}
	return l, err
}
