package main

import (
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strings"

	"glidepace/cmd/glidepace/internal/console"
	"glidepace/sessions/safefile"
	"glidepace/sounds/file"
)

// outFile is a file that a command writes.
type outFile struct {
	name    string
	content []byte
}

// checkOut refuses a name under which a command must not write: its end has to be one of
// those of the kind of file, and it must not be a file that the command reads. What else
// is never replaced, package safefile knows.
func checkOut(name string, ends []string, read ...string) error {
	if !slices.Contains(ends, strings.ToLower(filepath.Ext(name))) {
		base := strings.TrimSuffix(name, filepath.Ext(name))
		return console.Usagef("%s: the end of the name says what kind of file it is: %s, such as %s%s",
			name, strings.Join(ends, " or "), base, ends[0])
	}
	for _, other := range read {
		a, err := os.Stat(name)
		b, err2 := os.Stat(other)
		if err == nil && err2 == nil && os.SameFile(a, b) {
			return console.Usagef("%s is the file that is read here, and is never replaced: choose another name", name)
		}
	}
	return nil
}

// writeFiles writes files, all of them or none.
func writeFiles(force bool, files ...outFile) error {
	var whole []*safefile.File
	for _, o := range files {
		f, err := safefile.Create(o.name, force)
		if err != nil {
			return fileError(err)
		}
		defer f.Discard()
		if _, err := f.Write(o.content); err != nil {
			return fmt.Errorf("%s: %w", o.name, err)
		}
		whole = append(whole, f)
	}
	return fileError(safefile.Commit(whole...))
}

// fileError returns a usage error for what another command line can put right.
func fileError(err error) error {
	var refused safefile.Refusal
	if errors.As(err, &refused) && refused.Exists {
		err = fmt.Errorf("%w: choose another name, or --force to replace it", err)
	}
	if refused != (safefile.Refusal{}) || errors.As(err, new(file.UnknownExtension)) {
		return console.Usagef("%w", err)
	}
	return err
}
