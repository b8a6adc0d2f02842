package loan

import (
	"errors"
	"fmt"
	"io/fs"
	"os"
	slashed "path"
	"path/filepath"

	"glidepace/devices/box"
)

// operation is called before each change of a file, with what it is. Tests end
// the program there.
var operation = func(what string) {}

// chunk is how much is written at a time, in bytes.
const chunk = 16 << 10

// card is a card's folder. Nothing in it leads out of it.
type card struct {
	dir  string
	root *os.Root
}

func openCard(folder string) (*card, error) {
	root, err := os.OpenRoot(folder)
	if errors.Is(err, fs.ErrNotExist) {
		return nil, fmt.Errorf("there is no folder %s: is the card in?", folder)
	}
	if err != nil {
		return nil, fmt.Errorf("the card's folder: %w", err)
	}
	return &card{folder, root}, nil
}

// Suggest says which folder in this one has a box file or a loan record, for
// whoever gave the folder above the card's; "" where none has.
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

// path returns the path of a file on the card for those who take one.
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

// pending is the name under which a file is written, until it is whole.
func pending(name string) string { return name + ".new" }

// write gives a file its content. At every moment it has all of it, or is as
// it was before.
func (c *card) write(name string, content []byte, mode fs.FileMode) error {
	if err := c.replace(name, content, mode); err != nil {
		return fmt.Errorf("%s cannot be written: %w", c.path(name), bare(err))
	}
	return nil
}

func (c *card) replace(name string, content []byte, mode fs.FileMode) error {
	dir := slashed.Dir(name)
	operation("make folder " + dir)
	if err := c.root.MkdirAll(dir, 0o755); err != nil {
		return err
	}
	operation("create " + name)
	f, err := c.root.OpenFile(pending(name), os.O_WRONLY|os.O_CREATE|os.O_TRUNC, mode)
	if err != nil {
		return err
	}
	if err := fill(f, content); err != nil {
		return err
	}
	operation("rename " + name)
	if err := c.root.Rename(pending(name), name); err != nil {
		return err
	}
	c.syncFolder(dir)
	return nil
}

// bare returns an error without the name of the file, which is said beside it.
func bare(err error) error {
	var path *fs.PathError
	var link *os.LinkError
	switch {
	case errors.As(err, &path):
		return path.Err
	case errors.As(err, &link):
		return link.Err
	}
	return err
}

// fill writes content from the file's beginning, brings it to the disk and
// closes the file.
func fill(f *os.File, content []byte) error {
	var err error
	for len(content) > 0 && err == nil {
		operation("write " + f.Name())
		n := min(chunk, len(content))
		_, err = f.Write(content[:n])
		content = content[n:]
	}
	if err == nil {
		operation("sync " + f.Name())
		err = f.Sync()
	}
	return errors.Join(err, f.Close())
}

// syncFolder brings names to the disk. Not every system can be asked for that.
func (c *card) syncFolder(name string) {
	operation("sync folder " + name)
	if d, err := c.root.Open(name); err == nil {
		d.Sync()
		d.Close()
	}
}
