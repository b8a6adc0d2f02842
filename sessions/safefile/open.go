package safefile

import (
	"bytes"
	"fmt"
	"io"
	"io/fs"
	"os"
	"syscall"
)

// TooLargeError says that a file has more than Most bytes.
type TooLargeError struct {
	Name string
	Most int64
}

func (e *TooLargeError) Error() string { return e.Name + " is larger than " + Size(e.Most) }

// Size says a limit of bytes.
func Size(bytes int64) string {
	if bytes < 1<<20 {
		return fmt.Sprintf("%d KB", bytes>>10)
	}
	return fmt.Sprintf("%d MB", bytes>>20)
}

// Open opens a file that comes from outside, for reading. A pipe or a device could keep
// its reader waiting for ever, or have no end: these, and folders, are a [Refusal].
// Open itself never waits. A symbolic link is followed.
func Open(name string) (*os.File, error) {
	// To open a device may already do something, so look at it before. And look again
	// afterwards, since another file may have taken the name.
	info, err := os.Stat(name)
	if err == nil {
		err = checkFile(name, info)
	}
	if err != nil {
		return nil, err
	}
	f, err := os.OpenFile(name, os.O_RDONLY|syscall.O_NONBLOCK, 0)
	if err != nil {
		return nil, err
	}
	if info, err = f.Stat(); err == nil {
		err = checkFile(name, info)
	}
	if err != nil {
		f.Close()
		return nil, err
	}
	return f, nil
}

// Read returns the content of a file that Open opens. Where that is more than so many
// bytes the error is a [*TooLargeError].
func Read(name string, most int64) ([]byte, error) {
	f, err := Open(name)
	if err != nil {
		return nil, err
	}
	defer f.Close()
	var content bytes.Buffer
	if info, err := f.Stat(); err == nil {
		content.Grow(int(min(info.Size(), most)) + bytes.MinRead)
	}
	if _, err = content.ReadFrom(io.LimitReader(f, most+1)); err == nil && int64(content.Len()) > most {
		err = &TooLargeError{name, most}
	}
	return content.Bytes(), err
}

// checkFile returns a Refusal of what is not a file.
func checkFile(name string, info fs.FileInfo) error {
	switch {
	case info.IsDir():
		return Refusal{name, " is a folder: give the name of a file", false}
	case !info.Mode().IsRegular():
		return Refusal{name, " is not a file but a device or a pipe: give the name of a file", false}
	}
	return nil
}
