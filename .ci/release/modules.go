package main

import (
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"maps"
	"net/url"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"time"
	"unicode/utf8"
)

// module is a Go module of which packages are in a program.
type module struct {
	path, version, dir string
	packages           map[string]bool // their folders
}

// modules lists what is in the program for a system, and in the program for the
// browser that it holds.
func (r *release) modules(system ...string) ([]*module, error) {
	found := map[string]*module{}
	for _, program := range []struct {
		pkg string
		env []string
	}{{"./cmd/glidepace", system}, {"./devices/page/engine", []string{"GOOS=js", "GOARCH=wasm"}}} {
		list, err := output(r.source, r.env(program.env...), "go", "list", "-deps", "-json=Dir,Module", program.pkg)
		if err != nil {
			return nil, err
		}
		for d := json.NewDecoder(strings.NewReader(list)); ; {
			var p struct {
				Dir    string
				Module *struct {
					Path, Version, Dir string
					Main               bool
				}
			}
			if err := d.Decode(&p); errors.Is(err, io.EOF) {
				break
			} else if err != nil {
				return nil, err
			}
			if p.Module == nil || p.Module.Main {
				continue
			}
			m := found[p.Module.Path]
			if m == nil {
				m = &module{p.Module.Path, p.Module.Version, p.Module.Dir, map[string]bool{}}
				found[m.path] = m
			}
			m.packages[p.Dir] = true
		}
	}
	return slices.SortedFunc(maps.Values(found), func(a, b *module) int { return strings.Compare(a.path, b.path) }), nil
}

var licenceName = regexp.MustCompile(`(?i)^[^.]*(licen[cs]e|copying|copyright|notice)[^.]*(\.txt|\.md)?$`)

// licences returns the texts of all licences. A module without one is an error.
func (r *release) licences(modules []*module) ([]byte, error) {
	var text bytes.Buffer
	add := func(title, from string) error {
		licence, err := os.ReadFile(from)
		if !utf8.Valid(licence) { // then it is Latin-1
			var letters []rune
			for _, b := range licence {
				letters = append(letters, rune(b))
			}
			licence = []byte(string(letters))
		}
		fmt.Fprintf(&text, "\n======== %s\n\n%s\n", title, bytes.TrimSpace(licence))
		return err
	}
	root, err := r.run("go", "env", "GOROOT")
	if err != nil {
		return nil, err
	}
	text.WriteString("glidepace is under the first of these licences. It holds parts of the other\nprojects, each under its own licence.\n")
	if err := errors.Join(
		add("glidepace", filepath.Join(r.source, "LICENSE")),
		add("The library of Go, "+toolchain, filepath.Join(strings.TrimSpace(root), "LICENSE")),
	); err != nil {
		return nil, err
	}
	for _, m := range modules {
		names, err := m.licences()
		if err == nil && len(names) == 0 {
			err = fmt.Errorf("%s %s has no licence in %s", m.path, m.version, m.dir)
		}
		if err != nil {
			return nil, err
		}
		for _, name := range names {
			if err := add(fmt.Sprintf("%s %s, %s", m.path, m.version, name), filepath.Join(m.dir, name)); err != nil {
				return nil, err
			}
		}
	}
	return text.Bytes(), nil
}

// licences lists the files with a licence that holds for what is used of a module:
// those beside a package or above it, and those in a folder for them.
func (m *module) licences() (names []string, err error) {
	holds := func(dir string) bool {
		base := strings.ToLower(filepath.Base(dir))
		if base == "licenses" || base == "licences" {
			return true
		}
		for p := range m.packages {
			if p == dir || strings.HasPrefix(p, dir+string(filepath.Separator)) {
				return true
			}
		}
		return false
	}
	err = filepath.WalkDir(m.dir, func(name string, d fs.DirEntry, err error) error {
		dir := filepath.Dir(name)
		if err != nil || d.IsDir() || !holds(dir) {
			return err
		}
		if licenceName.MatchString(d.Name()) || strings.EqualFold(filepath.Base(dir), "licenses") {
			short, err := filepath.Rel(m.dir, name)
			names = append(names, filepath.ToSlash(short))
			return err
		}
		return nil
	})
	return names, err
}

// writeSBOM lists what a program is made of, in the form of CycloneDX 1.6.
func (r *release) writeSBOM(name string, modules []*module) error {
	type component struct {
		Type    string `json:"type"`
		Ref     string `json:"bom-ref"`
		Name    string `json:"name"`
		Version string `json:"version"`
		PURL    string `json:"purl"`
	}
	newComponent := func(kind, path, version string) component {
		purl := "pkg:golang/" + path + "@" + url.QueryEscape(version)
		return component{kind, purl, path, version, purl}
	}
	components := []component{newComponent("library", "stdlib", strings.TrimPrefix(toolchain, "go"))}
	for _, m := range modules {
		components = append(components, newComponent("library", m.path, m.version))
	}
	text, err := json.MarshalIndent(map[string]any{
		"bomFormat":   "CycloneDX",
		"specVersion": "1.6",
		"version":     1,
		"metadata": map[string]any{
			"timestamp": r.made.Format(time.RFC3339),
			"component": newComponent("application", "glidepace", r.version),
		},
		"components": components,
	}, "", "  ")
	if err != nil {
		return err
	}
	return os.WriteFile(name, append(text, '\n'), 0o644)
}
