//go:build !linux

package safefile

// renameNew renames a file, unless the new name is there.
func renameNew(from, to string) error { return linkNew(from, to) }
