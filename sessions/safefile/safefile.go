// Package safefile writes files in whole or not at all: each is written under another
// name in the same folder, brought to the disk, and takes its own name last. A power cut
// leaves the old file or the new one, and at worst a file under the other name, which
// the next one to write into that folder removes. Temporary folders are removed likewise.
//
// And it opens files that come from outside, such as a card: only what is a file, and
// no larger than its reader expects.
package safefile

import (
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"strings"
)

// File is a file that is being written. Until Commit it has a temporary name in the
// same folder and is locked, which tells it from one that was left behind.
type File struct {
	file    *os.File // under the temporary name
	name    string   // its own, without symbolic links
	replace bool
	created bool // it has taken its own name, which was free
	settled bool // committed or discarded
}

// Refusal is the error for a name under which nothing is written or read.
type Refusal struct {
	Name, Why string
	Exists    bool // there is a file that could be replaced
}

func (r Refusal) Error() string { return r.Name + r.Why }

func exists(name string) error { return Refusal{name, " is there already", true} }

// Create begins a file. Unless replace is set the name must be free, now and in Commit.
// A symbolic link is followed, and a file that is replaced keeps its permissions. A
// folder or a device is never replaced, nor is a file that cannot be made again: a diary
// or another database, a session file, a box file.
func Create(name string, replace bool) (*File, error) {
	if err := Check(name, replace); err != nil {
		return nil, err
	}
	return create(name, replace)
}

// create is Create for any file.
func create(name string, replace bool) (*File, error) {
	name, old, err := target(name, replace)
	if err != nil {
		return nil, err
	}
	f, err := createTemp(filepath.Dir(name))
	if err != nil {
		return nil, fmt.Errorf("%s: %w", name, withoutName(err))
	}
	if old != nil {
		if err := f.Chmod(old.Mode().Perm()); err != nil {
			f.Close()
			os.Remove(f.Name())
			return nil, err
		}
	}
	return &File{file: f, name: name, replace: replace}, nil
}

// Check returns the error with which Create would refuse a name.
func Check(name string, replace bool) error {
	real, old, err := target(name, replace)
	if err != nil || old == nil {
		return err
	}
	return checkReplaceable(name, real)
}

// databaseHeader begins every diary: https://www.sqlite.org/fileformat.html, 1.3.
const databaseHeader = "SQLite format 3\x00"

// checkReplaceable returns a Refusal of a file that cannot be made again. Real is its
// name without symbolic links.
func checkReplaceable(name, real string) error {
	if end := strings.ToLower(filepath.Ext(real)); end == ".yaml" || end == ".yml" {
		return Refusal{name, " is a session file or a box file, which is never replaced: choose another name", false}
	}
	f, err := Open(real)
	if err != nil {
		return nil // then nobody can read it, and it is replaced or it is not
	}
	defer f.Close()
	header := make([]byte, len(databaseHeader))
	if _, err := io.ReadFull(f, header); err == nil && string(header) == databaseHeader {
		return Refusal{name, " is a diary, which is never replaced: choose another name", false}
	}
	return nil
}

// Write writes a file, and replaces one that is there.
func Write(name string, content []byte) error {
	f, err := Create(name, true)
	if err != nil {
		return err
	}
	defer f.Discard()
	if _, err := f.Write(content); err != nil {
		return fmt.Errorf("%s: %w", name, err)
	}
	return Commit(f)
}

// target returns where a file of that name belongs, and what is there now, nil for
// nothing.
func target(name string, replace bool) (string, fs.FileInfo, error) {
	if _, err := os.Lstat(name); errors.Is(err, fs.ErrNotExist) {
		if _, err := os.Stat(filepath.Dir(name)); errors.Is(err, fs.ErrNotExist) {
			return "", nil, Refusal{name, ": there is no folder " + filepath.Dir(name), false}
		}
		return name, nil, nil
	} else if err != nil {
		return "", nil, err
	}
	if !replace {
		return "", nil, exists(name)
	}
	real, err := filepath.EvalSymlinks(name)
	if err != nil {
		return "", nil, err
	}
	old, err := os.Stat(real)
	if err == nil {
		err = checkFile(name, old)
	}
	return real, old, err
}

// withoutName returns an error without the temporary name, which tells people nothing.
func withoutName(err error) error {
	if e, ok := errors.AsType[*fs.PathError](err); ok {
		return e.Err
	}
	return err
}

// Name returns the file's own name, without symbolic links.
func (f *File) Name() string { return f.name }

// Temporary returns the name until Commit, for another program that writes the file.
func (f *File) Temporary() string { return f.file.Name() }

// Chmod sets its permissions.
func (f *File) Chmod(mode fs.FileMode) error { return withoutName(f.file.Chmod(mode)) }

// Write implements io.Writer. Its errors do not name the file.
func (f *File) Write(b []byte) (int, error) {
	n, err := f.file.Write(b)
	return n, withoutName(err)
}

// Seek implements io.Seeker.
func (f *File) Seek(offset int64, whence int) (int64, error) { return f.file.Seek(offset, whence) }

// Discard removes a file that has not been committed. After Commit it does nothing, so
// that it can be deferred.
func (f *File) Discard() {
	if f.settled {
		return
	}
	f.settled = true
	f.file.Close()
	os.Remove(f.file.Name())
}

// Commit gives files their names once all of them are on the disk. At every moment each
// has its old content or its new one; only on a file system without links, and not on
// Linux, a new file is empty for a moment. If one cannot have its name, names that were
// free are free again and all files are discarded; only a file that was replaced already
// stays replaced.
func Commit(files ...*File) (err error) {
	var placed []*File
	defer func() {
		if err == nil {
			return
		}
		for _, f := range placed {
			if f.created {
				os.Remove(f.name)
			}
		}
		for _, f := range files {
			f.Discard()
		}
	}()
	for _, f := range files {
		if err := errors.Join(f.file.Sync(), f.file.Close()); err != nil {
			return fmt.Errorf("%s: %w", f.name, withoutName(err))
		}
	}
	for _, f := range files {
		if err := f.place(); err != nil {
			return err
		}
		placed = append(placed, f)
	}
	for _, f := range files {
		syncFolder(filepath.Dir(f.name))
	}
	return nil
}

// place gives a file its own name.
func (f *File) place() error {
	rename := os.Rename
	if !f.replace {
		rename = renameNew
	}
	err := rename(f.file.Name(), f.name)
	if !f.replace && errors.Is(err, fs.ErrExist) {
		return exists(f.name)
	}
	f.settled = err == nil
	f.created = f.settled && !f.replace
	return err
}

// linkNew renames a file by a link, which fails if the new name is there. On a file
// system without links an empty file takes the name first.
func linkNew(from, to string) error {
	err := os.Link(from, to)
	if err == nil {
		if err = os.Remove(from); err != nil {
			os.Remove(to)
		}
		return err
	}
	if errors.Is(err, fs.ErrExist) {
		return err
	}
	empty, err := os.OpenFile(to, os.O_WRONLY|os.O_CREATE|os.O_EXCL, 0o666)
	if err != nil {
		return err
	}
	empty.Close()
	if err := os.Rename(from, to); err != nil {
		os.Remove(to)
		return err
	}
	return nil
}

// syncFolder brings names to the disk, on systems that can.
func syncFolder(name string) {
	if d, err := os.Open(name); err == nil {
		d.Sync()
		d.Close()
	}
}
