// Command release makes what people install: a program for each system, with the
// licences of all that is in it; packages for Debian; a list of the modules; and
// the checksums.
//
//	go -C .ci/release run . [-o FOLDER] [-cache FOLDER] [TARGET...]
//
// It builds the last commit, in a clone of its own, so that neither the folder
// nor what is not committed gets into it: whoever builds the commit with the same
// compiler gets the same bytes. The version is the one that Go derives from git:
// a tag, or else the time and the name of the commit.
package main

import (
	"debug/buildinfo"
	"flag"
	"fmt"
	"net/http"
	"os"
	"os/signal"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"time"
)

// target is a system to build for.
type target struct{ os, arch, debian string }

var targets = []target{
	{"linux", "amd64", "amd64"},
	{"linux", "arm64", "arm64"},
	{"linux", "arm", "armhf"},
	{"darwin", "arm64", ""},
	{"darwin", "amd64", ""},
	{"windows", "amd64", ""},
}

func (t target) String() string { return t.os + "/" + t.arch }

// release is what is made, and what of.
type release struct {
	source  string // a clone of the repository
	shared  string // manual pages and completions
	out     string
	version string // as Go writes it, such as v1.2.3
	commit  string
	made    time.Time // when the commit was made
}

func main() {
	out := flag.String("o", "../../dist", "the `folder` for what is made; what is in it is removed")
	cache := flag.String("cache", "", "a build cache, a `folder`, of the programs' own, to see that they do not depend on it")
	flag.Parse()
	signal.Notify(make(chan os.Signal, 1), os.Interrupt) // what runs ends, and then this, tidily
	if err := run(*out, *cache, flag.Args()); err != nil {
		fmt.Fprintln(os.Stderr, "release:", err)
		os.Exit(1)
	}
}

func run(out, cache string, wanted []string) error {
	for _, w := range wanted {
		if !slices.ContainsFunc(targets, func(t target) bool { return t.String() == w }) {
			return fmt.Errorf("target %q is not known; there are: %v", w, targets)
		}
	}
	work, err := os.MkdirTemp("", "glidepace-release-")
	if err != nil {
		return err
	}
	defer os.RemoveAll(work)
	r, err := prepare(work, out)
	if err != nil {
		return err
	}
	for _, t := range targets {
		if len(wanted) > 0 && !slices.Contains(wanted, t.String()) {
			continue
		}
		if err := r.build(t, cache, filepath.Join(work, t.os+"_"+t.arch)); err != nil {
			return fmt.Errorf("%s: %w", t, err)
		}
	}
	if err := r.boxPackage(); err != nil {
		return err
	}
	if err := r.writeSums(); err != nil {
		return err
	}
	return r.lookForVulnerabilities()
}

// lookForVulnerabilities asks Go's database whether the program calls anything that
// is known to be vulnerable. Without the database it says so.
func (r *release) lookForVulnerabilities() error {
	client := http.Client{Timeout: 10 * time.Second}
	answer, err := client.Head("https://vuln.go.dev/index/db.json")
	if err != nil {
		fmt.Println("Vulnerabilities: not looked for, as the database cannot be reached:", err)
		return nil
	}
	answer.Body.Close()
	report, err := r.run("go", "run", "golang.org/x/vuln/cmd/govulncheck@v1.9.0", "./cmd/glidepace")
	fmt.Print(report)
	return err
}

// prepare clones the repository and makes what all systems share.
func prepare(work, out string) (*release, error) {
	r := &release{source: filepath.Join(work, "source"), shared: filepath.Join(work, "shared")}
	var err error
	if r.out, err = filepath.Abs(out); err != nil {
		return nil, err
	}
	if list, _ := os.ReadDir(r.out); len(list) > 0 {
		if _, err := os.Stat(filepath.Join(r.out, "SHA256SUMS")); err != nil {
			return nil, fmt.Errorf("%s holds something else than a release: name another folder", r.out)
		}
	}
	if err := os.RemoveAll(r.out); err != nil {
		return nil, err
	}
	for _, dir := range []string{r.out, r.shared} {
		if err := os.MkdirAll(dir, 0o755); err != nil {
			return nil, err
		}
	}
	top, err := output(".", nil, "git", "rev-parse", "--show-toplevel")
	if err != nil {
		return nil, err
	}
	if _, err := output(".", nil, "git", "clone", "--quiet", strings.TrimSpace(top), r.source); err != nil {
		return nil, err
	}
	commit, err := output(r.source, nil, "git", "log", "-1", "--format=%H %ct")
	if err != nil {
		return nil, err
	}
	r.commit, commit, _ = strings.Cut(strings.TrimSpace(commit), " ")
	seconds, err := strconv.ParseInt(commit, 10, 64)
	if err != nil {
		return nil, err
	}
	r.made = time.Unix(seconds, 0).UTC()
	if _, err := r.run("go", "build", "-o", r.native(), "./cmd/glidepace"); err != nil {
		return nil, err
	}
	_, err = r.run("go", "test", "-run", "^TestManual$", "./cmd/glidepace", "-args", "-manual", r.shared)
	return r, err
}

// native is the program for the machine that makes the release.
func (r *release) native() string { return filepath.Join(r.shared, "native") }

// build makes the program for one system, and what goes with it.
func (r *release) build(t target, cache, dir string) error {
	program := filepath.Join(dir, "glidepace")
	if t.os == "windows" {
		program += ".exe"
	}
	system := []string{"GOOS=" + t.os, "GOARCH=" + t.arch}
	building := r.env(system...)
	if cache != "" {
		building = append(building, "GOCACHE="+cache)
	}
	if _, err := output(r.source, building, "go", "build", "-o", program, "./cmd/glidepace"); err != nil {
		return err
	}
	info, err := buildinfo.ReadFile(program)
	if err != nil {
		return err
	}
	r.version = info.Main.Version
	modules, err := r.modules(system...)
	if err != nil {
		return err
	}
	licences, err := r.licences(modules)
	if err != nil {
		return err
	}
	files := []file{{"LICENSES.txt", licences, 0o644}}
	if files, err = appendFile(files, filepath.Base(program), program, 0o755); err != nil {
		return err
	}
	name := filepath.Join(r.out, fmt.Sprintf("glidepace_%s_%s_%s", r.debianVersion(), t.os, t.arch))
	if err := writeArchive(name+".tar.gz", files, r.made); err != nil {
		return err
	}
	if err := r.writeSBOM(name+".cdx.json", modules); err != nil {
		return err
	}
	if t.debian == "" {
		return nil
	}
	return r.programPackage(t.debian, program, licences)
}
