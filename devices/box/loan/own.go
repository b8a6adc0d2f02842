package loan

import (
	"errors"
	"fmt"
	"io/fs"
	"path/filepath"
	"slices"
	"strings"

	"glidepace/devices/box"
	"glidepace/sessions/diary"
	"glidepace/sessions/fields"
	"glidepace/sessions/safefile"
)

// The largest files of a loan, in bytes.
const (
	LargestRecording = 32 << 20
	largestDiary     = diary.LargestMerged
	largestText      = fields.MaxSize // of the box file, the session file and the record
)

// NotOwnError says that what is on a card under a name that a loan uses is no file of
// the card's own. To read, write or wipe it could reach another file, or never end.
type NotOwnError struct{ Path, Why string }

func (e *NotOwnError) Error() string { return e.Path + e.Why }

// checkOwn returns an error where a name leads to something other than a file of the
// card's own of at most so many bytes. The name may be free.
func (c *card) checkOwn(name string, most int64) error {
	wrong := func(name, why string, args ...any) error {
		return &NotOwnError{c.path(name), fmt.Sprintf(why, args...)}
	}
	var info fs.FileInfo
	for i := range name + "/" {
		if i < len(name) && name[i] != '/' {
			continue
		}
		var err error
		info, err = c.root.Lstat(filepath.FromSlash(name[:i])) // the folders on the way, then the file
		switch {
		case errors.Is(err, fs.ErrNotExist):
			return nil
		case err != nil:
			return err
		case info.Mode()&fs.ModeSymlink != 0:
			return wrong(name[:i], " is a link to another place: put a copy of what it leads to in its place, or move it away")
		}
	}
	switch {
	case !info.Mode().IsRegular():
		return wrong(name, " is not a file but a folder, a device or a pipe: move it away")
	case hardLinks(info) > 1:
		return wrong(name, " is a file that has another name too (a hard link), so to change one is to change both: put a copy in its place, or move it away")
	case info.Size() > most:
		return wrong(name, " is larger than %s, so it is not what a loan put there: move it to a safe place", safefile.Size(most))
	}
	return nil
}

// checkAllOwn does checkOwn for all that a loan writes, reads and wipes.
func (c *card) checkAllOwn(l leftovers) error {
	check := func(names ...string) error {
		for _, name := range names {
			if err := c.checkOwn(name, l.largest(name)); err != nil {
				return err
			}
		}
		return nil
	}
	err := check(slices.Concat([]string{RecordName, box.FileName}, l.sessions, l.recordings, l.diaries)...)
	if err != nil {
		return err
	}
	names, err := c.there(l) // with all that is beside them
	if err != nil {
		return err
	}
	return check(names...)
}

// largest returns how large one of the leftovers may be.
func (l leftovers) largest(name string) int64 {
	switch {
	case slices.ContainsFunc(l.diaries, func(d string) bool { return strings.HasPrefix(name, d) }):
		return largestDiary
	case slices.ContainsFunc(l.recordings, func(r string) bool { return name == r || name == pending(r) }):
		return LargestRecording
	}
	return largestText
}

// read returns the content of a file of the card's own.
func (c *card) read(name string, most int64) ([]byte, error) {
	if err := c.checkOwn(name, most); err != nil {
		return nil, err
	}
	return safefile.Read(c.path(name), most)
}
