//go:build !unix

package loan

import (
	"crypto/sha256"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
)

// sameVolume reports whether two folders are known to be on one volume: here it
// never is known.
func sameVolume(_, _ string) bool { return false }

// hardLinks returns how many names a file has, as far as that is known.
func hardLinks(fs.FileInfo) int { return 1 }

// lockFile returns which file is locked for a card, and how it is opened. A folder
// cannot be locked here, and nothing may be left behind on the card: it is a file in
// the computer's folder for temporary files.
func lockFile(folder string) (path string, flag int) {
	if real, err := filepath.Abs(folder); err == nil {
		folder = real
	}
	name := fmt.Sprintf("glidepace-card-%x.lock", sha256.Sum256([]byte(folder)))
	return filepath.Join(os.TempDir(), name), os.O_CREATE | os.O_RDONLY
}
