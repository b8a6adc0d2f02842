package loan

import (
	"io/fs"
	"os"
	"path/filepath"
)

// The volume is the part of a memory card that a computer shows as one: the
// card's folder may be all of it, or a folder on it. What somebody copied beside
// that folder, or threw into the volume's bin, is a trace too. It is only
// reported, never wiped: nobody but its owner knows what it is.

// limits say when looking ends, so that the folder of a big disk that was taken
// for a card's does not keep anybody waiting. Zero is no limit.
type limits struct {
	files        int
	single, size int64 // of one file, of all; in bytes
}

// A boot partition has some hundred files of some ten megabytes in all.
var ofVolume = limits{files: 5000, single: 64 << 20, size: 512 << 20}

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
	for sameVolume(dir, folder) {
		top = dir
		if dir == filepath.Dir(dir) {
			break
		}
		dir = filepath.Dir(dir)
	}
	return top
}

// lookOutside looks for traces on the volume, outside the card's folder. Texts
// that may stand by chance in the system's files there are not looked for.
func (s search) lookOutside(volume, folder string) (l looked, err error) {
	if volume == "" {
		return l, nil
	}
	card, err := os.Stat(folder)
	if err != nil {
		return l, err
	}
	if top, err := os.Stat(volume); err != nil || os.SameFile(top, card) {
		return l, err
	}
	var telling search
	for _, t := range s {
		if len(t.text) >= long {
			telling = append(telling, t)
		}
	}
	l, err = telling.look(os.DirFS(volume), ofVolume, func(_ string, e fs.DirEntry) bool {
		if !e.IsDir() {
			return false
		}
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
