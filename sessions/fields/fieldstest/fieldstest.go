// Package fieldstest reads the bad files of a test and what is said of them:
// NAME.yaml and NAME.txt, in a txtar bundle for each behaviour, or in files of their
// own where the bytes matter.
package fieldstest

import (
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/rogpeppe/go-internal/txtar"
)

// load returns the files of a folder as bundles, by the names of their files.
func load(t testing.TB, folder string) map[string]*txtar.Archive {
	t.Helper()
	bundles := map[string]*txtar.Archive{}
	entries, err := os.ReadDir(folder)
	if err != nil || len(entries) == 0 {
		t.Fatalf("no bad files in %s: %v", folder, err)
	}
	for _, e := range entries {
		name := filepath.Join(folder, e.Name())
		src, err := os.ReadFile(name)
		if err != nil {
			t.Fatal(err)
		}
		switch base, ext := strings.TrimSuffix(name, filepath.Ext(name)), filepath.Ext(name); ext {
		case ".txtar":
			bundles[name] = txtar.Parse(src)
			if n := len(bundles[name].Files); n == 0 || n%2 != 0 {
				t.Fatalf("%s holds %d files, want pairs", name, n)
			}
		case ".yaml":
			said, err := os.ReadFile(base + ".txt")
			if err != nil {
				t.Fatal(err)
			}
			bundles[base+".txt"] = &txtar.Archive{Files: []txtar.File{{Name: e.Name(), Data: src}, {Data: said}}}
		}
	}
	return bundles
}

// Bad returns the texts of the bad files in a folder.
func Bad(t testing.TB, folder string) (texts [][]byte) {
	for _, b := range load(t, folder) {
		for i := 0; i < len(b.Files); i += 2 {
			texts = append(texts, b.Files[i].Data)
		}
	}
	return texts
}

// Check compares what say returns for each bad file in a folder with what is
// kept; with update it is kept.
func Check(t *testing.T, folder string, update bool, say func(t *testing.T, name string, src []byte) string) {
	for name, b := range load(t, folder) {
		for i := 0; i < len(b.Files); i += 2 {
			bad, said := b.Files[i], &b.Files[i+1]
			t.Run(bad.Name, func(t *testing.T) {
				got := say(t, bad.Name, bad.Data)
				if !update && got != string(said.Data) {
					t.Errorf("got:\n%swant:\n%s", got, said.Data)
				}
				said.Data = []byte(got)
			})
		}
		text := txtar.Format(b)
		if strings.HasSuffix(name, ".txt") {
			text = b.Files[1].Data
		}
		if update {
			if err := os.WriteFile(name, text, 0o644); err != nil {
				t.Fatal(err)
			}
		}
	}
}
