package file

import (
	"errors"
	"fmt"
	"io/fs"
	"math/rand/v2"
	"os"
	"path/filepath"
)

// Pending is a file that is being written. It has a temporary name,
// ".NAME.NUMBER" in the folder of the name that it is to have, until it is
// committed.
type Pending struct {
	file    *os.File // under the temporary name
	name    string   // that it is to have, without symbolic links
	force   bool
	created bool // its name was free, and has been taken
	settled bool // it was committed or discarded
}

// Create begins a file. Without force, a name that there is already is
// refused, now and in Commit. With force, a file of that name is replaced in
// Commit: a symbolic link is followed, permissions stay. What is not a file,
// like a folder or a device, is refused always. Refusals are a UsageError.
func Create(name string, force bool) (*Pending, error) {
	name, old, err := target(name, force)
	if err != nil {
		return nil, err
	}
	f, err := createTemp(name)
	if err != nil {
		return nil, err
	}
	p := &Pending{file: f, name: name, force: force}
	if old != nil {
		if err := f.Chmod(old.Mode().Perm()); err != nil {
			p.Discard()
			return nil, err
		}
	}
	return p, nil
}

// target finds where a file of that name is to be, and what is there now, nil
// if nothing.
func target(name string, force bool) (string, fs.FileInfo, error) {
	if _, err := os.Lstat(name); errors.Is(err, fs.ErrNotExist) {
		if _, err := os.Stat(filepath.Dir(name)); errors.Is(err, fs.ErrNotExist) {
			return "", nil, usagef("%s: there is no folder %s", name, filepath.Dir(name))
		}
		return name, nil, nil
	} else if err != nil {
		return "", nil, err
	}
	if !force {
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
		return "", nil, usagef("%s is a folder: give the name of a file", name)
	case !old.Mode().IsRegular():
		return "", nil, usagef("%s is not a file but a device or a pipe: give the name of a file", name)
	}
	return real, old, nil
}

func exists(name string) error {
	return usagef("%s is there already: choose another name, or --force to replace it", name)
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
			return nil, fmt.Errorf("%s: %w", name, bare(err))
		}
	}
}

// bare returns an error without the temporary name, which says nothing to
// people.
func bare(err error) error {
	if e, ok := errors.AsType[*fs.PathError](err); ok {
		return e.Err
	}
	return err
}

// Write implements io.Writer. Its errors do not name the file.
func (p *Pending) Write(b []byte) (int, error) {
	n, err := p.file.Write(b)
	return n, bare(err)
}

// Seek implements io.Seeker.
func (p *Pending) Seek(offset int64, whence int) (int64, error) { return p.file.Seek(offset, whence) }

// Discard removes a file that has not been committed. After Commit it does
// nothing, so it can be deferred.
func (p *Pending) Discard() {
	if p.settled {
		return
	}
	p.settled = true
	p.file.Close()
	os.Remove(p.file.Name())
}

// Commit gives files their names, once all of them are on the disk. Each has
// its old content or its new one at every moment (on FAT without force, for a
// moment an empty one). If one cannot be given its
// name, names that were free before are free again and all files are
// discarded; only a file that was replaced by then, with force, stays
// replaced.
func Commit(files ...*Pending) (err error) {
	var placed []*Pending
	defer func() {
		if err == nil {
			return
		}
		for _, p := range placed {
			if p.created {
				os.Remove(p.name)
			}
		}
		for _, p := range files {
			p.Discard()
		}
	}()
	for _, p := range files {
		if err := errors.Join(p.file.Sync(), p.file.Close()); err != nil {
			return fmt.Errorf("%s: %w", p.name, bare(err))
		}
	}
	for _, p := range files {
		if err := p.place(); err != nil {
			return err
		}
		placed = append(placed, p)
	}
	for _, p := range files {
		syncFolder(filepath.Dir(p.name))
	}
	return nil
}

// place moves a file from its temporary name to its own. Without force that is
// a link, which takes no name that is there. Where a file system has no links,
// such as FAT, the name is taken first by an empty file.
func (p *Pending) place() error {
	if !p.force {
		err := os.Link(p.file.Name(), p.name)
		if err == nil {
			p.created, p.settled = true, true
			return os.Remove(p.file.Name())
		}
		if errors.Is(err, fs.ErrExist) {
			return exists(p.name)
		}
		f, err := os.OpenFile(p.name, os.O_WRONLY|os.O_CREATE|os.O_EXCL, 0o666)
		if errors.Is(err, fs.ErrExist) {
			return exists(p.name)
		} else if err != nil {
			return err
		}
		p.created = true
		f.Close()
	}
	if err := os.Rename(p.file.Name(), p.name); err != nil {
		if p.created {
			os.Remove(p.name)
		}
		return err
	}
	p.settled = true
	return nil
}

// syncFolder brings names to the disk. Not every system can be asked for that.
func syncFolder(name string) {
	if d, err := os.Open(name); err == nil {
		d.Sync()
		d.Close()
	}
}
