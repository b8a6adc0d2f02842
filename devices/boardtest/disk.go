//go:build real && linux

package boardtest

import (
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
)

// Format makes the image of a disk with a "vfat" or "ext4" file system of some
// megabytes, with the files in it. The image is removed when the test ends.
func Format(t testing.TB, kind string, megabytes int64, files map[string][]byte) string {
	t.Helper()
	dir := t.TempDir()
	content := filepath.Join(dir, "content")
	must := func(err error) {
		t.Helper()
		if err != nil {
			t.Fatal(err)
		}
	}
	must(os.Mkdir(content, 0o755))
	for name, data := range files {
		p := filepath.Join(content, name)
		must(os.MkdirAll(filepath.Dir(p), 0o755))
		must(os.WriteFile(p, data, 0o644))
	}
	image := filepath.Join(dir, "disk")
	must(os.WriteFile(image, nil, 0o644))
	must(os.Truncate(image, megabytes<<20))

	run := func(name string, args ...string) {
		t.Helper()
		if out, err := exec.Command(name, args...).CombinedOutput(); err != nil {
			t.Fatalf("%s %s: %v (Debian: dosfstools, mtools, e2fsprogs)\n%s", name, strings.Join(args, " "), err, out)
		}
	}
	if kind == "ext4" {
		run("mkfs.ext4", "-q", "-d", content, image)
		return image
	}
	run("mkfs."+kind, image)
	if names, _ := filepath.Glob(filepath.Join(content, "*")); len(names) > 0 {
		run("mcopy", append(append([]string{"-s", "-i", image}, names...), "::")...)
	}
	return image
}
