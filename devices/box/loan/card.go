package loan

import (
	"bytes"
	"errors"
	"fmt"
	"io/fs"
	"iter"
	"os"
	"path"
	"path/filepath"
	"slices"

	"github.com/gofrs/flock"

	"glidepace/devices/box"
	"glidepace/sessions"
)

// operation is called before each change of a file, with what it is. Tests end
// the program there.
var operation = func(what string) {}

// chunk is how much is written at a time, in bytes.
const chunk = 16 << 10

// olderName is the file in which an older version kept what it had found on a
// card after a loan.
const olderName = "look-again.yaml"

// card is a card's folder, which no other program loads or wipes meanwhile.
type card struct {
	dir  string
	root *os.Root
	lock *flock.Flock
}

func openCard(folder string) (*card, error) {
	root, err := os.OpenRoot(folder)
	if err != nil {
		return nil, fmt.Errorf("the card's folder: %w", err)
	}
	c := &card{dir: folder, root: root}
	if c.lock, err = lockCard(folder); err != nil {
		root.Close()
		return nil, err
	}
	if c.has(olderName) {
		c.close()
		return nil, fmt.Errorf("%s was written by an older version of glidepace, which found the texts in it on the card after a loan: look for them in the files on the card, then remove it", c.path(olderName))
	}
	return c, nil
}

func (c *card) close() {
	c.root.Close()
	c.lock.Unlock()
}

// Suggest says which folder in this one has a box file or a loan record, for
// people who gave the folder above the card's; "" where none has.
func Suggest(folder string) string {
	entries, _ := os.ReadDir(folder)
	for _, e := range entries {
		below := filepath.Join(folder, e.Name())
		for _, name := range []string{box.FileName, RecordName} {
			if _, err := os.Stat(filepath.Join(below, name)); err == nil {
				return fmt.Sprintf("there is a %s in %s: did you mean that folder?", name, below)
			}
		}
	}
	return ""
}

// path returns the path of a file on the card from outside of it.
func (c *card) path(name string) string { return filepath.Join(c.dir, filepath.FromSlash(name)) }

func (c *card) has(name string) bool {
	_, err := c.root.Lstat(filepath.FromSlash(name))
	return !errors.Is(err, fs.ErrNotExist)
}

// blank reports whether a file is there and has no content.
func (c *card) blank(name string) bool {
	info, err := c.root.Stat(filepath.FromSlash(name))
	return err == nil && info.Size() == 0
}

// boxFile reads the card's box file. The error is fs.ErrNotExist where there
// is none.
func (c *card) boxFile() (*box.File, error) {
	text, err := c.read(box.FileName, largestText)
	if err != nil {
		return nil, err
	}
	return box.Parse(c.path(box.FileName), bytes.NewReader(text))
}

// session reads the first of the session files that can be read; nil where none
// can.
func (c *card) session(names []string) *sessions.Session {
	for _, name := range names {
		if text, err := c.read(name, largestText); err == nil {
			if s, _ := sessions.Parse(name, bytes.NewReader(text)); s != nil {
				return s
			}
		}
	}
	return nil
}

// pending is the name under which a file is written, until it is whole. Package
// safefile is not for cards: it takes a name by chance, and what a power cut
// leaves under that would not be found and wiped.
func pending(name string) string { return name + ".new" }

// write gives a file its content. At every moment it has all of it, or is as
// it was before.
func (c *card) write(name string, content []byte, mode fs.FileMode) error {
	operation("make folder of " + name)
	err := c.root.MkdirAll(path.Dir(name), 0o755)
	if err == nil {
		err = c.fill(pending(name), os.O_CREATE|os.O_TRUNC, mode, slices.Chunk(content, chunk))
	}
	if err == nil {
		err = c.rename(pending(name), name)
	}
	if err != nil {
		return fmt.Errorf("%s cannot be written: %w", c.path(name), withoutName(err))
	}
	return nil
}

// fill opens a file, writes parts from its beginning and brings it to the disk.
func (c *card) fill(name string, flag int, mode fs.FileMode, parts iter.Seq[[]byte]) error {
	operation("open " + name)
	f, err := c.root.OpenFile(name, os.O_WRONLY|flag, mode)
	if err != nil {
		return err
	}
	for part := range parts {
		operation("write " + name)
		if _, err = f.Write(part); err != nil {
			return errors.Join(err, f.Close())
		}
	}
	operation("sync " + name)
	return errors.Join(f.Sync(), f.Close())
}

// rename gives a file another name in its folder.
func (c *card) rename(from, to string) error {
	operation("rename " + from)
	if err := c.root.Rename(from, to); err != nil {
		return err
	}
	c.syncFolder(path.Dir(to))
	return nil
}

// syncFolder brings names to the disk, where the system can be asked for that.
func (c *card) syncFolder(name string) {
	operation("sync folder " + name)
	if d, err := c.root.Open(name); err == nil {
		d.Sync()
		d.Close()
	}
}

// withoutName returns an error without the name of the file, which is said
// beside it.
func withoutName(err error) error {
	if e, ok := errors.AsType[*fs.PathError](err); ok {
		return e.Err
	}
	if e, ok := errors.AsType[*os.LinkError](err); ok {
		return e.Err
	}
	return err
}
