package main

import (
	"flag"
	"path/filepath"
	"testing"

	"github.com/spf13/cobra/doc"
)

var manual = flag.String("manual", "", "a folder to keep the manual pages and the completions of shells in")

func TestManual(t *testing.T) {
	folder := *manual
	if folder == "" {
		folder = t.TempDir()
	}
	root := newRoot()
	root.DisableAutoGenTag = true
	if err := doc.GenManTree(root, &doc.GenManHeader{Source: "glidepace", Manual: "glidepace"}, folder); err != nil {
		t.Fatal(err)
	}
	pages, err := filepath.Glob(filepath.Join(folder, "*.1"))
	if err != nil || len(pages) < 20 {
		t.Fatalf("%d pages: %v", len(pages), err)
	}
	for name, write := range map[string]func(string) error{
		"bash": func(name string) error { return root.GenBashCompletionFileV2(name, true) },
		"zsh":  root.GenZshCompletionFile,
		"fish": func(name string) error { return root.GenFishCompletionFile(name, true) },
	} {
		if err := write(filepath.Join(folder, name)); err != nil {
			t.Error(err)
		}
	}
}
