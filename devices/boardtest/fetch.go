//go:build real && linux

package boardtest

import (
	"errors"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"sync"
)

// release is the kernel that is booted, from Debian's trixie-backports: the
// kernels of Debian 12 have no gpio-sim.
const release = "7.3.4+deb13-arm64"

// CacheVar names the environment variable with the folder in which the kernel
// is kept, 140 MB of it; without it that is in the user's cache.
const CacheVar = "GLIDEPACE_BOARDTEST_CACHE"

var fetching sync.Mutex

// fetch returns the folder with the kernel (vmlinuz) and its modules (kernel/).
// It is downloaded once, 98 MB; nothing is installed.
func fetch() (string, error) {
	fetching.Lock()
	defer fetching.Unlock()
	cache := os.Getenv(CacheVar)
	if cache == "" {
		user, err := os.UserCacheDir()
		if err != nil {
			return "", fmt.Errorf("%w: set %s to a folder to keep the kernel in", err, CacheVar)
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
	if err := download(work, "linux-binary-"+release, "linux-modules-"+release); err != nil {
		return "", fmt.Errorf("no kernel %s to test with: %w\nIt comes from Debian's trixie-backports: "+
			"see whether deb.debian.org can be reached and still has it; the release is named in fetch.go", release, err)
	}
	// All at once, so that what is there is whole.
	if err := os.Rename(filepath.Join(work, "usr/lib/modules", release), done); err != nil && !errors.Is(err, os.ErrExist) {
		return "", err
	}
	return done, nil
}

// download gets Debian packages for arm64, checked by apt, and unpacks them
// into dir, where apt has a state of its own too.
func download(dir string, packages ...string) error {
	var key string
	for _, k := range []string{"debian-archive-trixie-automatic.gpg", "debian-archive-keyring.gpg"} {
		k = filepath.Join("/usr/share/keyrings", k)
		if _, err := os.Stat(k); err == nil {
			key = k
			break
		}
	}
	if key == "" {
		return errors.New("no Debian keys in /usr/share/keyrings: install debian-archive-keyring")
	}
	files := map[string]string{
		"sources.list": "deb [signed-by=" + key + "] http://deb.debian.org/debian trixie-backports main\n",
		"status":       "",
		"apt.conf": `Dir::State "` + dir + `/state";
Dir::State::status "` + dir + `/status";
Dir::Cache "` + dir + `/cache";
Dir::Etc::sourcelist "` + dir + `/sources.list";
Dir::Etc::sourceparts "` + dir + `/none";
Dir::Etc::preferences "` + dir + `/none";
Dir::Etc::preferencesparts "` + dir + `/none";
APT::Architecture "arm64";
APT::Architectures { "arm64"; };
APT::Sandbox::User "root";
APT::Update::Error-Mode "any";
Acquire::Languages "none";
Acquire::Retries "3";
`}
	for name, text := range files {
		if err := os.WriteFile(filepath.Join(dir, name), []byte(text), 0o644); err != nil {
			return err
		}
	}
	for _, d := range []string{"state/lists/partial", "cache/archives/partial"} {
		if err := os.MkdirAll(filepath.Join(dir, d), 0o755); err != nil {
			return err
		}
	}
	run := func(name string, args ...string) error {
		cmd := exec.Command(name, args...)
		cmd.Dir = dir
		cmd.Env = append(os.Environ(), "APT_CONFIG="+filepath.Join(dir, "apt.conf"))
		if out, err := cmd.CombinedOutput(); err != nil {
			return fmt.Errorf("%s: %w\n%s", strings.Join(cmd.Args, " "), err, out)
		}
		return nil
	}
	if err := run("apt-get", "update"); err != nil {
		return err
	}
	if err := run("apt-get", append([]string{"download"}, packages...)...); err != nil {
		return err
	}
	debs, err := filepath.Glob(filepath.Join(dir, "*.deb"))
	if err != nil {
		return err
	}
	for _, deb := range debs {
		if err := run("dpkg-deb", "-x", deb, dir); err != nil {
			return err
		}
	}
	return nil
}
