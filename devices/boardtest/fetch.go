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
// 140 MB, and the system, of 180 MB, are kept. Without it, that is in the user's
// cache.
const cacheVar = "GLIDEPACE_BOARDTEST_CACHE"

var (
	//go:embed fetch.sh
	fetchScript string
	//go:embed system.sh
	systemScript string
)

// fetch returns the folder with the kernel (vmlinuz) and its modules (kernel/).
// It is downloaded once, 98 MB; nothing is installed.
func fetch() (string, error) {
	return once(release, filepath.Join("usr/lib/modules", release),
		"no kernel "+release+" to test with", "it comes from Debian's trixie-backports, and the release is named in fetch.go",
		fetchScript, "fetch.sh", "linux-binary-"+release, "linux-modules-"+release)
}

// system returns the image of a disk with a Debian system, which is made once.
func system() (string, error) {
	return once("trixie.ext4", "system.ext4", "no Debian system to test with",
		"Debian packages mmdebstrap, arch-test, qemu-user-static, e2fsprogs; by root", systemScript, "system.sh")
}

var making sync.Mutex

// once returns the path of what a script makes, which is kept in the cache under
// that name. Where it is missing, the script makes it.
func once(name, made, missing, needs, script string, args ...string) (string, error) {
	making.Lock()
	defer making.Unlock()
	cache := os.Getenv(cacheVar)
	if cache == "" {
		user, err := os.UserCacheDir()
		if err != nil {
			return "", fmt.Errorf("%w: set %s to a folder to keep it in", err, cacheVar)
		}
		cache = filepath.Join(user, "glidepace-boardtest")
	}
	done := filepath.Join(cache, name)
	if _, err := os.Stat(done); err == nil {
		return done, nil
	}
	if err := os.MkdirAll(cache, 0o755); err != nil {
		return "", err
	}
	work, err := os.MkdirTemp(cache, "making")
	if err != nil {
		return "", err
	}
	defer os.RemoveAll(work)
	run := exec.Command("sh", append([]string{"-c", script}, args...)...)
	run.Dir = work
	if out, err := run.CombinedOutput(); err != nil {
		return "", fmt.Errorf("%s: %w\n%s\nSee whether deb.debian.org can be reached: %s", missing, err, out, needs)
	}
	// All at once, so that what is there is whole.
	if err := os.Rename(filepath.Join(work, made), done); err != nil && !errors.Is(err, os.ErrExist) {
		return "", err
	}
	return done, nil
}
