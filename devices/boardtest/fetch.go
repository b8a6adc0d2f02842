//go:build real && linux

package boardtest

import (
	_ "embed"
	"errors"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"sync"
)

// release is the kernel that is booted, from Debian's trixie-backports: the
// kernels of Debian 12 have no gpio-sim.
const release = "7.3.4+deb13-arm64"

// cacheVar names the environment variable with the folder in which the kernel, of
// 140 MB, is kept. Without it, that is in the user's cache.
const cacheVar = "GLIDEPACE_BOARDTEST_CACHE"

//go:embed fetch.sh
var fetchScript string

var fetching sync.Mutex

// fetch returns the folder with the kernel (vmlinuz) and its modules (kernel/).
// It is downloaded once, 98 MB; nothing is installed.
func fetch() (string, error) {
	fetching.Lock()
	defer fetching.Unlock()
	cache := os.Getenv(cacheVar)
	if cache == "" {
		user, err := os.UserCacheDir()
		if err != nil {
			return "", fmt.Errorf("%w: set %s to a folder to keep the kernel in", err, cacheVar)
		}
		cache = filepath.Join(user, "glidepace-boardtest")
	}
	done := filepath.Join(cache, release)
	if _, err := os.Stat(done); err == nil {
		return done, nil
	}
	if err := os.MkdirAll(cache, 0o755); err != nil {
		return "", err
	}
	work, err := os.MkdirTemp(cache, "fetching")
	if err != nil {
		return "", err
	}
	defer os.RemoveAll(work)
	download := exec.Command("sh", "-c", fetchScript, "fetch.sh", "linux-binary-"+release, "linux-modules-"+release)
	download.Dir = work
	if out, err := download.CombinedOutput(); err != nil {
		return "", fmt.Errorf("no kernel %s to test with: %w\n%s\nIt comes from Debian's trixie-backports: "+
			"see whether deb.debian.org can be reached and still has it; the release is named in fetch.go", release, err, out)
	}
	// All at once, so that what is there is whole.
	if err := os.Rename(filepath.Join(work, "usr/lib/modules", release), done); err != nil && !errors.Is(err, os.ErrExist) {
		return "", err
	}
	return done, nil
}
