package loan

import (
	"errors"
	"fmt"
	"io/fs"
	"iter"
	"os"
	"path"
	"path/filepath"
	"slices"
	"strings"

	"glidepace/devices/box"
	"glidepace/sessions/diary"
)

// leftovers are the names of what a card may hold of a loan, besides the
// record.
type leftovers struct{ diaries, sessions, recordings []string }

// leftoversOf takes them from a record and from box files. Each may be nil.
func leftoversOf(record *Record, boxes ...*box.File) (l leftovers) {
	var files []Files
	if record != nil {
		files = []Files{record.Files}
	}
	for _, b := range boxes {
		if b != nil {
			files = append(files, Files{Session: b.Session, Diary: b.Diary})
		}
	}
	for _, f := range files {
		if !slices.Contains(l.sessions, f.Session) {
			l.sessions = append(l.sessions, f.Session)
		}
		if !slices.Contains(l.diaries, f.Diary) {
			l.diaries = append(l.diaries, f.Diary)
		}
		l.recordings = append(l.recordings, f.Recordings...)
	}
	return l
}

// merged is the name of a diary from when it was merged until it is wiped.
func merged(diary string) string { return diary + ".merged" }

// there returns which of the leftovers are on the card, with those that were not
// written to the end.
func (c *card) there(l leftovers) ([]string, error) {
	var names []string
	for _, d := range l.diaries {
		for _, name := range []string{merged(d), d} {
			files, err := diary.Files(c.path(name))
			if err != nil && !errors.Is(err, fs.ErrNotExist) { // of the folder
				return nil, err
			}
			for _, file := range files {
				rel, err := filepath.Rel(c.dir, file)
				if err != nil {
					return nil, err
				}
				names = append(names, filepath.ToSlash(rel))
			}
		}
	}
	written := slices.Concat(l.sessions, l.recordings)
	for _, name := range written {
		if c.has(name) {
			names = append(names, name)
		}
	}
	for _, name := range slices.Concat(l.diaries, written, []string{box.FileName, RecordName}) {
		if c.has(pending(name)) {
			names = append(names, pending(name))
		}
	}
	return names, nil
}

// wipe wipes the leftovers and returns the names that the files had. Every diary
// under its own name must have been merged, or be blank. It gets its other name,
// and that stays without content until forget, as a sign that it was merged.
func (c *card) wipe(l leftovers) (wiped []string, err error) {
	for _, d := range l.diaries {
		if !c.has(d) {
			continue
		}
		if err := c.wipeFile(merged(d)); err != nil { // of an earlier loan
			return nil, err
		}
		if err := c.rename(d, merged(d)); err != nil {
			return nil, c.notWiped(d, err)
		}
	}
	names, err := c.there(l)
	if err != nil {
		return nil, err
	}
	for _, name := range names {
		if d, ok := strings.CutSuffix(name, merged("")); ok && slices.Contains(l.diaries, d) {
			if c.blank(name) {
				continue
			}
			err, name = c.notWiped(name, c.empty(name)), d
		} else {
			err = c.wipeFile(name)
		}
		if err != nil {
			return wiped, err
		}
		wiped = append(wiped, name)
	}
	for _, name := range slices.Concat(l.sessions, l.recordings) { // of files that an earlier call wiped, too
		c.removeFolders(name)
	}
	return wiped, nil
}

// forget wipes the record and then the signs that diaries were merged. It
// returns the name of the record where there was one.
func (c *card) forget(l leftovers) (wiped []string, err error) {
	if c.has(RecordName) {
		// Cut off while it is wiped under this name, it is one more leftover, and
		// not a record that makes no sense.
		if err := c.rename(RecordName, pending(RecordName)); err != nil {
			return nil, c.notWiped(RecordName, err)
		}
		if err := c.wipeFile(pending(RecordName)); err != nil {
			return nil, err
		}
		wiped = []string{RecordName}
	}
	for _, d := range l.diaries {
		if err := c.wipeFile(merged(d)); err != nil {
			return wiped, err
		}
		c.removeFolders(d)
	}
	return wiped, nil
}

// removeFolders removes the folders above a file that are empty.
func (c *card) removeFolders(name string) {
	for dir := path.Dir(name); dir != "."; dir = path.Dir(dir) {
		operation("remove folder " + dir)
		if err := c.root.Remove(dir); err != nil && !errors.Is(err, fs.ErrNotExist) {
			break // something else is in it
		}
	}
}

// wipeFile overwrites a file with zeros and removes it. What is not there is
// wiped.
func (c *card) wipeFile(name string) error {
	err := c.empty(name)
	if err == nil {
		operation("remove " + name)
		err = c.root.Remove(name)
	}
	if errors.Is(err, fs.ErrNotExist) {
		return nil
	}
	c.syncFolder(path.Dir(name))
	return c.notWiped(name, err)
}

// empty overwrites a file with zeros, and leaves only its name.
func (c *card) empty(name string) error {
	info, err := c.root.Stat(name)
	if err == nil {
		err = c.fill(name, 0, 0, zeros(info.Size()))
	}
	if err == nil {
		operation("empty " + name)
		err = c.fill(name, os.O_TRUNC, 0, zeros(0))
	}
	return err
}

// zeros are so many bytes, in parts.
func zeros(size int64) iter.Seq[[]byte] {
	return func(yield func([]byte) bool) {
		part := make([]byte, chunk)
		for ; size > 0 && yield(part[:min(size, chunk)]); size -= chunk {
		}
	}
}

func (c *card) notWiped(name string, err error) error {
	if err == nil {
		return nil
	}
	return fmt.Errorf("%s cannot be wiped: %w", c.path(name), withoutName(err))
}
