package loan

import (
	"encoding/binary"
	"io"
	"io/fs"
	"slices"
)

// diaryID stands in the header of an SQLite file that is a diary. It never
// changes: all older diaries have it.
const diaryID = 0x47504459

// isDiary reports by its header whether a file is a diary. The places in it
// are from https://www.sqlite.org/fileformat.html, 1.3, "The Database Header".
func isDiary(files fs.FS, name string) bool {
	f, err := files.Open(name)
	if err != nil {
		return false
	}
	defer f.Close()
	var header [72]byte
	if _, err := io.ReadFull(f, header[:]); err != nil {
		return false
	}
	return string(header[:16]) == "SQLite format 3\x00" && binary.BigEndian.Uint32(header[68:]) == diaryID
}

// strays returns the diaries on the card that are not in a list of known
// files, as far as the card can be read.
func (c *card) strays(known []string) []string {
	var list []string
	files := c.root.FS()
	fs.WalkDir(files, ".", func(name string, e fs.DirEntry, err error) error {
		if err == nil && e.Type().IsRegular() && !slices.Contains(known, name) && isDiary(files, name) {
			list = append(list, name)
		}
		return nil // the rest may be readable
	})
	return list
}
