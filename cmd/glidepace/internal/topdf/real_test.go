//go:build real

package topdf

import (
	"context"
	"errors"
	"os"
	"path/filepath"
	"testing"
	"time"

	"glidepace/sessions/browsertest"
)

const page = `<!DOCTYPE html><html lang="en"><head><title>Test</title><style>@page { size: A4; margin: 20mm }</style></head>
<body><h1>First</h1><p style="break-before: page">Second</p></body></html>`

// A page becomes a PDF on the paper it asks for, and nothing else is left: not when it
// is done, and not when it is interrupted.
func TestConvert(t *testing.T) {
	folder := t.TempDir()
	t.Setenv("TMPDIR", folder)
	browser, err := Browser()
	if err != nil {
		t.Fatal(err)
	}
	left := func() []os.DirEntry {
		entries, err := os.ReadDir(folder)
		if err != nil {
			t.Fatal(err)
		}
		return entries
	}

	pdf, err := Convert(t.Context(), browser, []byte(page))
	if err != nil {
		t.Fatal(err)
	}
	if entries := left(); len(entries) > 0 {
		t.Errorf("left behind: %v", entries)
	}
	name := filepath.Join(t.TempDir(), "page.pdf")
	if err := os.WriteFile(name, pdf, 0o666); err != nil {
		t.Fatal(err)
	}
	pages := browsertest.Pages(t, name)
	if len(pages) != 2 || browsertest.Ink(pages[0]) == 0 || browsertest.Ink(pages[1]) == 0 {
		t.Fatalf("%d pages, want two with a word each", len(pages))
	}
	// 210 by 297 mm at 60 dots an inch.
	if size := pages[0].Bounds().Size(); size.X < 495 || size.X > 497 || size.Y < 701 || size.Y > 703 {
		t.Errorf("a page is %v dots, want 496 by 702", size)
	}

	ctx, cancel := context.WithCancel(t.Context())
	go func() {
		for len(left()) == 0 { // until the browser may have begun
			time.Sleep(time.Millisecond)
		}
		time.Sleep(100 * time.Millisecond)
		cancel()
	}()
	if _, err := Convert(ctx, browser, []byte(page)); !errors.Is(err, context.Canceled) {
		t.Errorf("interrupted: %v, want that it was canceled", err)
	}
	if entries := left(); len(entries) > 0 {
		t.Errorf("interrupted, left behind: %v", entries)
	}
}
