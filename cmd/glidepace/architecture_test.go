package main

import (
	"go/ast"
	"go/parser"
	"go/token"
	"io/fs"
	"os"
	"os/exec"
	"path"
	"path/filepath"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"testing"

	"github.com/spf13/cobra"
	"github.com/spf13/pflag"
)

const module = "glidepace"

// layout says which of our packages the packages of each place may import, besides
// others of the same place. A place is a folder with the folders below it, except
// those that are places themselves.
var layout = map[string][]string{
	"cmd/glidepace":     {"sessions", "sessions/progress", "sessions/history", "sessions/handout", "sessions/review", "pacer", "sounds", "sounds/clips", "sounds/file", "sounds/out", "sounds/program", "devices", "devices/box/loan", "devices/page", "devices/patient"},
	"sessions":          {},
	"sessions/progress": {"sessions", "pacer"},
	"sessions/history":  {"sessions", "sessions/progress", "pacer"},
	"sessions/handout":  {"sessions", "pacer"},
	"sessions/review":   {"sessions", "sessions/progress", "sessions/history", "pacer"},
	"pacer":             {"sessions"},
	"sounds":            {"sessions", "pacer"},
	"sounds/clips":      {"sessions", "pacer", "sounds", "sounds/program"},
	"sounds/file":       {"sessions", "pacer", "sounds", "sounds/program"},
	"sounds/out":        {"sessions", "pacer", "sounds", "sounds/program"}, // alone opens a sound server
	"sounds/program":    {"sessions"},
	"devices":           {"sessions", "pacer"},
	"devices/box/loan":  {"sessions", "devices"},
	"devices/page":      {"sessions", "sessions/progress", "sessions/history", "pacer", "sounds", "sounds/out", "devices", "devices/patient"}, // sounds/out for its tests
	"devices/patient":   {"sessions", "sessions/progress", "sessions/history", "pacer", "devices"},
}

// only says which packages from outside may be imported in one place only: those
// for a device, a terminal, a database or the command line.
var only = map[string]string{
	"github.com/gopxl/beep/v2/speaker": "sounds/out",
	"github.com/ebitengine/oto":        "sounds/out",
	"github.com/jfreymuth/pulse":       "sounds/out",
	"periph.io/x":                      "devices",
	"charm.land/bubbletea":             "devices",
	"charm.land/huh":                   "cmd/glidepace",
	"modernc.org/sqlite":               "sessions/diary",
	"github.com/spf13/cobra":           "cmd/glidepace",
	"github.com/coreos/go-systemd":     "cmd/glidepace",
	"github.com/chromedp":              "sessions/browsertest",
	"os/signal":                        "cmd/glidepace",
	"os/exec":                          "sounds/program",
	"gonum.org/v1/plot":                "pacer/picture",
	"github.com/arran4/golang-ical":    "sessions/calendar",
}

// impure is what the timeline's package must not import: files, network, printing.
var impure = []string{"os", "io", "net", "log", "bufio", "embed"}

// place returns the place of a folder, "" where it has none.
func place(dir string) string {
	for d := dir; d != "."; d = path.Dir(d) {
		if _, ok := layout[d]; ok {
			return d
		}
	}
	return ""
}

// within reports whether folder or import path p is q or below it.
func within(p, q string) bool { return p == q || strings.HasPrefix(p, q+"/") }

// wrongOwn says why a package may not import one of ours, "" if it may. It
// holds for tests too.
func wrongOwn(dir, imported string) string {
	if !within(imported, module) {
		return ""
	}
	from, to := place(dir), place(strings.TrimPrefix(imported, module+"/"))
	if to == from || slices.Contains(layout[from], to) {
		return ""
	}
	return from + " may import " + strings.Join(layout[from], ", ")
}

// wrongOutside says why a package may not import one that is not ours, "" if
// it may. Tests may look from outside.
func wrongOutside(dir, imported string) string {
	if imported == "C" {
		return "the program is built without cgo"
	}
	for outside, where := range only {
		if within(imported, outside) && !within(dir, where) {
			return "only " + where + " may"
		}
	}
	if place(dir) == "pacer" && slices.ContainsFunc(impure, func(p string) bool { return within(imported, p) }) {
		return "the timeline is pure"
	}
	return ""
}

func TestRulesOfImports(t *testing.T) {
	for _, c := range []struct {
		dir, imported string
		may           bool
	}{
		{"pacer", "glidepace/sessions", true},
		{"pacer", "glidepace/sessions/glides", true},
		{"pacer", "glidepace/sessions/progress", false},
		{"pacer", "glidepace/sounds", false},
		{"pacer", "os", false},
		{"pacer", "time", true},
		{"sessions", "glidepace/sessions/glides", true},
		{"sessions/diary", "glidepace/sessions", true},
		{"sessions/diary", "glidepace/pacer", false},
		{"sessions", "glidepace/sessions/progress", false},
		{"sessions/progress", "glidepace/pacer", true},
		{"sounds", "glidepace/sounds/out", false},
		{"sounds", "glidepace/sounds/voice", true},
		{"sounds/voice", "glidepace/sounds/clips", false},
		{"sounds/clips", "glidepace/sounds/voice", true},
		{"sounds/out/outtest", "glidepace/sounds/out", true},
		{"sounds", "github.com/gopxl/beep/v2", true},
		{"sounds", "github.com/gopxl/beep/v2/speaker", false},
		{"sounds/out", "github.com/gopxl/beep/v2/speaker", true},
		{"cmd/glidepace", "github.com/jfreymuth/pulse/proto", false},
		{"devices/screen", "glidepace/sounds", false},
		{"devices/box/loan", "glidepace/devices/box", true},
		{"devices/box", "glidepace/devices/box/loan", false},
		{"devices/screen", "charm.land/bubbletea/v2", true},
		{"cmd/glidepace", "glidepace/sounds/out", true},
		{"cmd/glidepace", "glidepace/sessions/progress", true},
		{"sounds/voice", "glidepace/sessions/safefile", true},
		{"sounds/out", "os/exec", false},
		{"sounds/out", "C", false},
	} {
		why := wrongOwn(c.dir, c.imported) + wrongOutside(c.dir, c.imported)
		if (why == "") != c.may {
			t.Errorf("%s may import %s: %v (%s), want %v", c.dir, c.imported, why == "", why, c.may)
		}
	}
}

// source is one Go file of the repository, whatever its build tags.
type source struct {
	dir, name string
	file      *ast.File
}

func (s source) test() bool { return strings.HasSuffix(s.name, "_test.go") }

// forTests reports whether a file is not part of the program: a test, or a helper of
// tests.
func (s source) forTests() bool {
	return s.test() || s.file.Name.Name == "main" && s.dir != "cmd/glidepace" || s.dir == "devices/boardtest" || s.dir == "sounds/out/outtest" || s.dir == "sessions/browsertest"
}

func sources(t *testing.T) []source {
	t.Helper()
	root := filepath.Join("..", "..")
	if text, err := os.ReadFile(filepath.Join(root, "go.mod")); err != nil || !strings.HasPrefix(string(text), "module "+module+"\n") {
		t.Fatalf("%s is not the root of module %s: %v", root, module, err)
	}
	var list []source
	err := filepath.WalkDir(root, func(name string, d fs.DirEntry, err error) error {
		if err != nil {
			return err
		}
		if base := d.Name(); d.IsDir() && (base == "testdata" || strings.HasPrefix(base, ".") && name != root) {
			return filepath.SkipDir
		}
		if d.IsDir() || !strings.HasSuffix(name, ".go") {
			return nil
		}
		f, err := parser.ParseFile(token.NewFileSet(), name, nil, parser.ParseComments)
		if err != nil {
			return err
		}
		rel, err := filepath.Rel(root, name)
		if err != nil {
			return err
		}
		rel = filepath.ToSlash(rel)
		list = append(list, source{path.Dir(rel), rel, f})
		return nil
	})
	if err != nil {
		t.Fatal(err)
	}
	return list
}

func TestImports(t *testing.T) {
	seen := map[string]bool{}
	imports := 0
	for _, s := range sources(t) {
		p := place(s.dir)
		if p == "" {
			t.Errorf("%s: the layout has no place for this folder", s.name)
			continue
		}
		seen[p] = true
		for _, i := range s.file.Imports {
			imported, err := strconv.Unquote(i.Path.Value)
			if err != nil {
				t.Fatal(err)
			}
			imports++
			why := wrongOwn(s.dir, imported)
			if !s.forTests() {
				why += wrongOutside(s.dir, imported)
			}
			if why != "" {
				t.Errorf("%s imports %s: %s", s.name, imported, why)
			}
		}
	}
	for p := range layout {
		if !seen[p] {
			t.Errorf("no package was found in %s", p)
		}
	}
	if imports == 0 {
		t.Error("no import was found")
	}
}

// The sound of a session can be made where no program runs and no recording is
// read, such as in a browser.
func TestSoundNeedsNoProgramAndNoDecoder(t *testing.T) {
	list, err := exec.Command("go", "list", "-deps", module+"/sounds").Output()
	if err != nil {
		t.Fatal(err)
	}
	deps := strings.Fields(string(list))
	for _, want := range []string{"glidepace/sounds/voice", "github.com/gopxl/beep/v2"} {
		if !slices.Contains(deps, want) {
			t.Errorf("%s is not among what sounds needs", want)
		}
	}
	for _, dep := range deps {
		for _, outside := range []string{
			"os/exec", "github.com/gopxl/beep/v2/flac", "github.com/gopxl/beep/v2/mp3", "github.com/gopxl/beep/v2/vorbis", "github.com/gopxl/beep/v2/wav",
			"github.com/mewkiz/flac", "github.com/hajimehoshi/go-mp3", "github.com/jfreymuth/vorbis", "github.com/jfreymuth/oggvorbis",
		} {
			if within(dep, outside) {
				t.Errorf("sounds needs %s", dep)
			}
		}
	}
}

func TestEveryPackageHasADoc(t *testing.T) {
	docs := map[string][]string{}
	names := map[string]string{}
	for _, s := range sources(t) {
		if s.test() {
			continue
		}
		names[s.dir] = s.file.Name.Name
		if s.file.Doc != nil {
			docs[s.dir] = append(docs[s.dir], s.file.Doc.Text())
		}
	}
	if len(names) == 0 {
		t.Fatal("no package was found")
	}
	for dir, name := range names {
		begin := "Package " + name + " "
		if name == "main" {
			begin = "Command " + path.Base(dir) + " "
		}
		if found := docs[dir]; len(found) != 1 || !strings.HasPrefix(found[0], begin) {
			t.Errorf("%s: %d package comments, want one that begins with %q", dir, len(found), begin)
		}
	}
}

// readsSystem has the files that read what the kernel tells in /proc and /sys.
var readsSystem = []string{"cmd/glidepace/internal/boxrun/clock.go", "cmd/glidepace/internal/selftest/selftest.go"}

// There is one way out of the program, so that whatever lights, moves or sounds is
// halted before it ends. And only one package renames files once they are whole,
// or opens those that a person names.
func TestOneWayOut(t *testing.T) {
	found := 0
	for _, s := range sources(t) {
		if s.forTests() {
			continue
		}
		ast.Inspect(s.file, func(n ast.Node) bool {
			call, ok := n.(*ast.SelectorExpr)
			if !ok {
				return true
			}
			switch pkg, ok := call.X.(*ast.Ident); {
			case !ok:
			case pkg.Name == "os" && call.Sel.Name == "Exit" && s.name == "cmd/glidepace/main.go":
				found++
			case pkg.Name == "os" && call.Sel.Name == "Rename" && s.dir == "sessions/safefile":
			case pkg.Name == "os" && (call.Sel.Name == "Open" || call.Sel.Name == "ReadFile") && within(s.dir, "cmd/glidepace") && !slices.Contains(readsSystem, s.name):
				t.Errorf("%s calls %s.%s, not that of safefile", s.name, pkg.Name, call.Sel.Name)
			case pkg.Name == "os" && (call.Sel.Name == "Exit" || call.Sel.Name == "Rename"), pkg.Name == "log" && strings.HasPrefix(call.Sel.Name, "Fatal"):
				t.Errorf("%s calls %s.%s", s.name, pkg.Name, call.Sel.Name)
			}
			return true
		})
	}
	if found != 1 {
		t.Errorf("cmd/glidepace/main.go has %d calls of os.Exit, want 1", found)
	}
}

// Packages below the commands do not know them. They say what is wrong and what is
// possible; a command says what to type.
func TestLibrariesKnowNoFlags(t *testing.T) {
	commands, flags := map[string]bool{}, map[string]bool{}
	var visit func(c *cobra.Command)
	visit = func(c *cobra.Command) {
		for _, below := range c.Commands() {
			commands[below.CommandPath()] = true
			visit(below)
		}
		c.LocalFlags().VisitAll(func(f *pflag.Flag) { flags["--"+f.Name] = true })
	}
	visit(newRoot())
	if !commands["glidepace box load"] || !flags["--no-ratings"] {
		t.Fatalf("not all commands and flags were found: %v, %v", commands, flags)
	}
	word := regexp.MustCompile(`--[a-z-]+|glidepace( [a-z]+){1,2}`)
	told := func(text string) string {
		if !strings.Contains(text, " ") {
			return "" // an argument of another program
		}
		for _, w := range word.FindAllString(text, -1) {
			first, _, _ := strings.Cut(strings.TrimPrefix(w, "glidepace "), " ")
			if flags[w] || commands[w] || commands["glidepace "+first] {
				return w
			}
		}
		return ""
	}
	for _, text := range []string{"choose another with --diary FILE", "see `glidepace diary list`"} {
		if told(text) == "" {
			t.Errorf("%q names a flag or a command, and is not found", text)
		}
	}
	for _, s := range sources(t) {
		if within(s.dir, "cmd/glidepace") || s.forTests() {
			continue
		}
		var texts []string
		for _, c := range s.file.Comments {
			texts = append(texts, c.Text())
		}
		ast.Inspect(s.file, func(n ast.Node) bool {
			if l, ok := n.(*ast.BasicLit); ok {
				texts = append(texts, l.Value)
			}
			return true
		})
		for _, text := range texts {
			if w := told(text); w != "" {
				t.Errorf("%s: %s is named in %q", s.name, w, text)
			}
		}
	}
}
