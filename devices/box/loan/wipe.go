package loan

import (
	"errors"
	"fmt"
	"io/fs"
	"os"
	slashed "path"
	"path/filepath"
	"slices"
	"strings"

	"glidepace/devices/box"
	"glidepace/sessions/diary"
)

// leftovers are the names of what a card may hold of a loan, besides the
// record.
type leftovers struct{ diaries, sessions, recordings []string }

// leftoversOf takes them from a loan record and from box files. Each may be
// nil.
func leftoversOf(loan *Record, files ...*box.File) leftovers {
	var l leftovers
	add := func(session, diary string) {
		if !slices.Contains(l.sessions, session) {
			l.sessions = append(l.sessions, session)
		}
		if !slices.Contains(l.diaries, diary) {
			l.diaries = append(l.diaries, diary)
		}
	}
	if loan != nil {
		add(loan.Files.Session, loan.Files.Diary)
		l.recordings = loan.Files.Recordings
	}
	for _, f := range files {
		if f != nil {
			add(f.Session, f.Diary)
		}
	}
	return l
}

// merged is the name of a diary from when it was merged until it is wiped.
func merged(diary string) string { return diary + ".merged" }

// diaryFiles returns the files of a diary that are on the card.
func (c *card) diaryFiles(name string) ([]string, error) {
	paths, err := diary.Files(c.path(name))
	if errors.Is(err, fs.ErrNotExist) {
		return nil, nil // not even the folder
	}
	if err != nil {
		return nil, err
	}
	for i, p := range paths {
		rel, err := filepath.Rel(c.dir, p)
		if err != nil {
			return nil, err
		}
		paths[i] = filepath.ToSlash(rel)
	}
	return paths, nil
}

// there returns which files of the leftovers are on the card.
func (c *card) there(l leftovers) ([]string, error) {
	var names []string
	for _, d := range l.diaries {
		for _, name := range []string{merged(d), d} {
			files, err := c.diaryFiles(name)
			if err != nil {
				return nil, err
			}
			names = append(names, files...)
		}
	}
	for _, name := range slices.Concat(l.sessions, l.recordings, []string{box.FileName, RecordName, AgainName}) {
		if name != box.FileName && name != RecordName && name != AgainName && c.has(name) {
			names = append(names, name)
		}
		if c.has(pending(name)) {
			names = append(names, pending(name))
		}
	}
	return names, nil
}

// wipe wipes the leftovers and returns the names that the files had. Every
// diary under its own name must have been merged, or be blank. Of it the other
// name stays, as a sign that it was merged, with no content, until forget.
func (c *card) wipe(l leftovers) (wiped []string, err error) {
	for _, d := range l.diaries {
		if !c.has(d) {
			continue
		}
		if err := c.wipeFile(merged(d)); err != nil { // of a time before
			return nil, err
		}
		operation("set aside " + d)
		if err := c.root.Rename(d, merged(d)); err != nil {
			return nil, fmt.Errorf("%s cannot be wiped: %w", c.path(d), bare(err))
		}
		c.syncFolder(slashed.Dir(d))
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
			err, name = c.empty(name), d
		} else {
			err = c.wipeFile(name)
		}
		if err != nil {
			return wiped, err
		}
		wiped = append(wiped, name)
		c.removeFolders(name)
	}
	return wiped, nil
}

// forget wipes the records and then the signs that diaries were merged, and
// returns the names of the records.
func (c *card) forget(l leftovers, records ...string) (wiped []string, err error) {
	for _, name := range append(records, RecordName) {
		if !c.has(name) {
			continue
		}
		// Cut off in the middle it is one more leftover, and not a record that
		// makes no sense.
		operation("set aside " + name)
		if err := c.root.Rename(name, pending(name)); err != nil {
			return wiped, fmt.Errorf("%s cannot be wiped: %w", c.path(name), bare(err))
		}
		c.syncFolder(".")
		if err := c.wipeFile(pending(name)); err != nil {
			return wiped, err
		}
		wiped = append(wiped, name)
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
	for dir := slashed.Dir(name); dir != "."; dir = slashed.Dir(dir) {
		operation("remove folder " + dir)
		if c.root.Remove(dir) != nil {
			break // something else is in it
		}
	}
}

// wipeFile overwrites a file with zeros and removes it. What is not there is
// wiped.
func (c *card) wipeFile(name string) error {
	err := c.zero(name)
	if err == nil {
		operation("remove " + name)
		if err = c.root.Remove(name); err == nil {
			c.syncFolder(slashed.Dir(name))
		}
	}
	if err != nil && !errors.Is(err, fs.ErrNotExist) {
		return fmt.Errorf("%s cannot be wiped: %w", c.path(name), bare(err))
	}
	return nil
}

// empty overwrites a file with zeros and leaves only its name.
func (c *card) empty(name string) error {
	err := c.zero(name)
	if err == nil {
		operation("empty " + name)
		var f *os.File
		if f, err = c.root.OpenFile(name, os.O_WRONLY|os.O_TRUNC, 0); err == nil {
			err = fill(f, nil)
		}
	}
	if err != nil {
		return fmt.Errorf("%s cannot be wiped: %w", c.path(name), bare(err))
	}
	return nil
}

func (c *card) zero(name string) error {
	f, err := c.root.OpenFile(name, os.O_WRONLY, 0)
	if err != nil {
		return err
	}
	info, err := f.Stat()
	if err != nil {
		return errors.Join(err, f.Close())
	}
	return fill(f, make([]byte, info.Size()))
}
