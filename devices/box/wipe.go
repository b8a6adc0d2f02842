package box

import (
	"errors"
	"fmt"
	"io/fs"
	"os"
	slashed "path"
	"path/filepath"
	"slices"
	"strings"

	"glidepace/sessions/diary"
)

// leftovers are the names of what a card may hold of a loan, besides the
// record.
type leftovers struct{ diaries, sessions, recordings []string }

// newLeftovers takes them from a loan record and from box files. Each may be
// nil.
func newLeftovers(loan *Loan, files ...*File) leftovers {
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
	for _, name := range slices.Concat(l.sessions, l.recordings, []string{FileName, LoanName}) {
		if name != FileName && name != LoanName && c.has(name) {
			names = append(names, name)
		}
		if c.has(pending(name)) {
			names = append(names, pending(name))
		}
	}
	return names, nil
}

// wipe wipes the leftovers and removes the folders that are empty then. Every
// diary under its own name must have been merged, or be blank. It returns the
// names that the files had.
func (c *card) wipe(l leftovers) ([]string, error) {
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
	for i, name := range names {
		if err := c.wipeFile(name); err != nil {
			return names[:i], err
		}
	}
	for i, name := range names {
		names[i] = strings.TrimSuffix(name, merged(""))
		for dir := slashed.Dir(name); dir != "."; dir = slashed.Dir(dir) {
			operation("remove folder " + dir)
			if c.root.Remove(dir) != nil {
				break // something else is in it
			}
		}
	}
	return names, nil
}

// wipeFile overwrites a file with zeros and removes it. What is not there is
// wiped.
func (c *card) wipeFile(name string) error {
	if err := c.zero(name); err != nil && !errors.Is(err, fs.ErrNotExist) {
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
	if err := fill(f, make([]byte, info.Size())); err != nil {
		return err
	}
	operation("remove " + name)
	if err := c.root.Remove(name); err != nil {
		return err
	}
	c.syncFolder(slashed.Dir(name))
	return nil
}
