package main

import (
	"errors"
	"fmt"

	"glidepace/cmd/glidepace/internal/console"
	"glidepace/sessions/safefile"
	"glidepace/sounds/file"
)

// outFile is a file that a command writes.
type outFile struct {
	name    string
	content []byte
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
