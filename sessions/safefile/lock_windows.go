package safefile

import "os"

// Windows removes no file that is open.

func lock(*os.File) {}

func removeUnlocked(name string) {
	if os.Remove(name) == nil {
		os.RemoveAll(name + folderEnd)
	}
}
