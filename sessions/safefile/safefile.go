// Package safefile writes files that have all of their content or are as they
// were before: each is written under another name in the same folder, brought
// to the disk, and takes its name last. A power cut leaves the old file or the
// new one, and at worst the one with the other name.
package safefile

import (
	"errors"
	"fmt"
	"io/fs"
	"math/rand/v2"
	"os"
	"path/filepath"
)

// File is a file that is being written. It has a temporary name,
// ".NAME.NUMBER" in the folder of the name that it is to have, until it is
// committed.
type File struct {
	file    *os.File // under the temporary name
	name    string   // that it is to have, without symbolic links
	replace bool
	created bool // its name was free, and has been taken
	settled bool // it was committed or discarded
}

// Refusal is the error for a name under which no file is written.
type Refusal struct {
	Name, Why string
	Exists    bool // it could be replaced
}

func (r Refusal) Error() string { return r.Name + r.Why }

func exists(name string) error { return Refusal{name, " is there already", true} }

// Create begins a file. Unless a file of that name may be replaced, the name
// must be free, now and in Commit. A symbolic link is followed, and a file that
// is replaced keeps its permissions. What is not a file, like a folder or a
// device, is never replaced.
func Create(name string, replace bool) (*File, error) {
	name, old, err := target(name, replace)
	if err != nil {
		return nil, err
	}
	f, err := createTemp(name)
	if err != nil {
		return nil, err
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

// Check says why Create would refuse a name, nil where it would not.
func Check(name string, replace bool) error {
	_, _, err := target(name, replace)
	return err
}

// Write writes a file, and replaces one of its name.
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

// target finds where a file of that name is to be, and what is there now, nil
// if nothing.
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
	switch {
	case err != nil:
		return "", nil, err
	case old.IsDir():
		return "", nil, Refusal{name, " is a folder: give the name of a file", false}
	case !old.Mode().IsRegular():
		return "", nil, Refusal{name, " is not a file but a device or a pipe: give the name of a file", false}
	}
	return real, old, nil
}

// createTemp creates a file with the permissions that any new file gets;
// os.CreateTemp gives it to its owner alone.
func createTemp(name string) (*os.File, error) {
	dir, base := filepath.Split(name)
	for {
		temp := filepath.Join(dir, fmt.Sprintf(".%s.%d", base, rand.Uint32()))
		f, err := os.OpenFile(temp, os.O_RDWR|os.O_CREATE|os.O_EXCL, 0o666)
		if err == nil {
			return f, nil
		}
		if !errors.Is(err, fs.ErrExist) {
			return nil, fmt.Errorf("%s: %w", name, withoutName(err))
		}
	}
}

// withoutName returns an error without the temporary name, which says nothing to
// people.
func withoutName(err error) error {
	if e, ok := errors.AsType[*fs.PathError](err); ok {
		return e.Err
	}
	return err
}

// Name returns the name that the file is to have, without symbolic links.
func (f *File) Name() string { return f.name }

// Temporary returns the name that it has until then, for a program that writes
// it.
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

// Discard removes a file that has not been committed. After Commit it does
// nothing, so it can be deferred.
func (f *File) Discard() {
	if f.settled {
		return
	}
	f.settled = true
	f.file.Close()
	os.Remove(f.file.Name())
}

// Commit gives files their names, once all of them are on the disk. Each has
// its old content or its new one at every moment (a new one on FAT, for a
// moment, an empty one). If one cannot be given its name, names that were free before
// are free again and all files are discarded; only a file that was replaced by
// then stays replaced.
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

// place moves a file from its temporary name to its own. Where nothing may be
// replaced that is a link, which takes no name that is there. Where a file
// system has no links, such as FAT, the name is taken first by an empty file.
func (f *File) place() error {
	if !f.replace {
		err := os.Link(f.file.Name(), f.name)
		if err == nil {
			f.created, f.settled = true, true
			return os.Remove(f.file.Name())
		}
		if errors.Is(err, fs.ErrExist) {
			return exists(f.name)
		}
		empty, err := os.OpenFile(f.name, os.O_WRONLY|os.O_CREATE|os.O_EXCL, 0o666)
		if errors.Is(err, fs.ErrExist) {
			return exists(f.name)
		} else if err != nil {
			return err
		}
		f.created = true
		empty.Close()
	}
	if err := os.Rename(f.file.Name(), f.name); err != nil {
		if f.created {
			os.Remove(f.name)
		}
		return err
	}
	f.settled = true
	return nil
}

// syncFolder brings names to the disk. Not every system can be asked for that.
func syncFolder(name string) {
	if d, err := os.Open(name); err == nil {
		d.Sync()
		d.Close()
	}
}
