//go:build real

package browsertest

import (
	"fmt"
	"image"
	"image/png"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
)

// Pages returns the pages of a PDF as pdftoppm draws them, at 60 dots an inch.
func Pages(t testing.TB, pdf string) (pages []image.Image) {
	t.Helper()
	base := filepath.Join(t.TempDir(), "page")
	if said, err := exec.Command("pdftoppm", "-r", "60", "-png", pdf, base).CombinedOutput(); err != nil {
		t.Fatalf("pdftoppm: %v: %s", err, said)
	}
	names, err := filepath.Glob(base + "-*.png") // numbered with zeros in front
	if err != nil {
		t.Fatal(err)
	}
	for _, name := range names {
		f, err := os.Open(name)
		if err != nil {
			t.Fatal(err)
		}
		defer f.Close()
		page, err := png.Decode(f)
		if err != nil {
			t.Fatal(fmt.Errorf("%s: %w", name, err))
		}
		pages = append(pages, page)
	}
	if len(pages) == 0 {
		t.Fatalf("%s has no page", pdf)
	}
	return pages
}

// Ink is the share of a picture that is not nearly white.
func Ink(picture image.Image) float64 {
	b := picture.Bounds()
	dark := 0
	for y := b.Min.Y; y < b.Max.Y; y++ {
		for x := b.Min.X; x < b.Max.X; x++ {
			if r, g, b, _ := picture.At(x, y).RGBA(); r+g+b < 3*0xe000 {
				dark++
			}
		}
	}
	return float64(dark) / float64(b.Dx()*b.Dy())
}

// Texts returns the words on each page of a PDF, with one space between them.
func Texts(t testing.TB, pdf string) (pages []string) {
	t.Helper()
	text, err := exec.Command("pdftotext", pdf, "-").Output()
	if err != nil {
		t.Fatalf("pdftotext: %v", err)
	}
	for page := range strings.SplitSeq(strings.TrimSuffix(string(text), "\f"), "\f") {
		pages = append(pages, strings.Join(strings.Fields(page), " "))
	}
	return pages
}
