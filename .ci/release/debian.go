package main

import (
	"cmp"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"time"

	"github.com/goreleaser/nfpm/v2"
	"github.com/goreleaser/nfpm/v2/deb"
	"github.com/goreleaser/nfpm/v2/files"
)

// debianVersion writes the version as Debian compares it: what comes before a
// release, "-" for Go, is "~".
func (r *release) debianVersion() string {
	v := strings.Replace(strings.TrimPrefix(r.version, "v"), "-", "~", 1)
	return strings.ReplaceAll(v, "-", ".")
}

// programPackage is all of the program. It runs nothing when it is installed.
func (r *release) programPackage(arch, program string, licences []byte) error {
	info := r.newPackage("glidepace", arch, `pacer for nerve glides at home
 Plays the session of nerve glides that a clinician prescribed, in sound and on
 screen, at the pace of the breath, and keeps a diary of what was done. Writes
 sessions as sound files, as pages for a phone and on paper, and says what a
 diary adds up to.`)
	info.Recommends = []string{"espeak-ng"}
	info.Suggests = []string{"ffmpeg", "chromium"}
	add := contents{r, info, nil}
	add.from("/usr/bin/glidepace", program, 0o755)
	add.from("/usr/share/bash-completion/completions/glidepace", filepath.Join(r.shared, "bash"), 0o644)
	add.from("/usr/share/zsh/vendor-completions/_glidepace", filepath.Join(r.shared, "zsh"), 0o644)
	add.from("/usr/share/fish/vendor_completions.d/glidepace.fish", filepath.Join(r.shared, "fish"), 0o644)
	add.glob(filepath.Join(r.shared, "*.1"), func(name string) {
		page, err := os.ReadFile(name)
		add.text("/usr/share/man/man1/"+filepath.Base(name)+".gz", packed(page))
		add.err = cmp.Or(add.err, err)
	})
	add.glob(filepath.Join(r.source, "testdata/sessions/*.yaml"), func(name string) {
		add.from("/usr/share/doc/glidepace/examples/"+filepath.Base(name), name, 0o644)
	})
	add.text("/usr/share/doc/glidepace/copyright", licences)
	return add.write()
}

// boxPackage makes a board with the program a box that runs from power-on. It is a
// package of its own, so that nothing of it gets onto the laptop of a patient.
func (r *release) boxPackage() error {
	info := r.newPackage("glidepace-box", "all", `runs a glidepace buzzer box from power-on
 Makes a small board the box that a clinic lends: the service, its user, the
 rule for the pins, and a journal that is kept in memory only. Only for a board
 that is a box and nothing else.`)
	info.Depends = []string{"glidepace (>= " + r.debianVersion() + ")", "systemd", "udev"}
	info.Recommends = []string{"alsa-utils"}
	info.Scripts.PostInstall = filepath.Join("debian", "glidepace-box.postinst")
	info.Scripts.PreRemove = filepath.Join("debian", "glidepace-box.prerm")
	add := contents{r, info, nil}
	for part, name := range map[string]string{
		"unit":    "/usr/lib/systemd/system/glidepace-box.service",
		"users":   "/usr/lib/sysusers.d/glidepace.conf",
		"udev":    "/usr/lib/udev/rules.d/60-glidepace.rules",
		"journal": "/usr/lib/systemd/journald.conf.d/glidepace.conf",
	} {
		text, err := r.run(r.native(), "box", "service", "--program", "/usr/bin/glidepace", "--part", part)
		if err != nil {
			return err
		}
		add.text(name, []byte(text))
	}
	add.from("/usr/share/doc/glidepace-box/copyright", filepath.Join(r.source, "LICENSE"), 0o644)
	return add.write()
}

func (r *release) newPackage(name, arch, description string) *nfpm.Info {
	return nfpm.WithDefaults(&nfpm.Info{
		Name: name, Arch: arch, Platform: "linux", Description: description,
		Version: r.debianVersion(), VersionSchema: "none", MTime: r.made,
		Section: "utils", Priority: "optional", Maintainer: "The glidepace authors <maintainers@glidepace.invalid>",
		Overridables: nfpm.Overridables{Deb: nfpm.Deb{Arch: arch}},
	})
}

// contents adds files to a package. err is the first error.
type contents struct {
	r    *release
	info *nfpm.Info
	err  error
}

func (c *contents) from(name, source string, mode os.FileMode) {
	c.info.Contents = append(c.info.Contents, &files.Content{
		Source: source, Destination: name,
		FileInfo: &files.ContentFileInfo{Mode: mode, MTime: c.r.made, Owner: "root", Group: "root"},
	})
}

// glob calls add for each of the files that match a pattern; there must be some.
func (c *contents) glob(pattern string, add func(name string)) {
	names, _ := filepath.Glob(pattern)
	if len(names) == 0 {
		c.err = cmp.Or(c.err, fmt.Errorf("%s: no such file", pattern))
	}
	for _, name := range names {
		add(name)
	}
}

func (c *contents) text(name string, text []byte) {
	source := filepath.Join(c.r.shared, "texts", name)
	if c.err == nil {
		c.err = os.MkdirAll(filepath.Dir(source), 0o755)
	}
	if c.err == nil {
		c.err = os.WriteFile(source, text, 0o644)
	}
	c.from(name, source, 0o644)
}

// write writes the package.
func (c *contents) write() error {
	changes := fmt.Sprintf("%s (%s) unstable; urgency=medium\n\n  * Made from commit %s.\n\n -- %s  %s\n",
		c.info.Name, c.info.Version, c.r.commit, c.info.Maintainer, c.r.made.Format(time.RFC1123Z))
	c.text("/usr/share/doc/"+c.info.Name+"/changelog.gz", packed([]byte(changes)))
	if c.err != nil {
		return c.err
	}
	if err := nfpm.PrepareForPackager(c.info, "deb"); err != nil {
		return err
	}
	f, err := os.Create(filepath.Join(c.r.out, fmt.Sprintf("%s_%s_%s.deb", c.info.Name, c.info.Version, c.info.Arch)))
	if err != nil {
		return err
	}
	defer f.Close()
	if err := deb.Default.Package(c.info, f); err != nil {
		return err
	}
	return f.Close()
}
