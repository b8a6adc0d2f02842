//go:build real

package browsertest

import (
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"github.com/chromedp/chromedp"
)

// The helper finds what it is there to find, and nothing in a good page.
func TestBrowserSeesWhatIsWrong(t *testing.T) {
	const head = `<!DOCTYPE html><html lang="en"><head><meta charset="utf-8"><title>Test</title>`
	folder := t.TempDir()
	write := func(name, text string) string {
		name = filepath.Join(folder, name)
		if err := os.WriteFile(name, []byte(text), 0o666); err != nil {
			t.Fatal(err)
		}
		return name
	}
	b := Open(t)

	b.Load(write("bad page.html", head+`<meta http-equiv="Content-Security-Policy" content="style-src 'none'"></head><body>
<main><h1 style="color: red">Bad</h1><img src="other.png"><script>console.error("broken"); missing()</script></main></body></html>`))
	found := strings.Join(b.Problems(), "\n")
	for _, want := range []string{"broken", "exception: ", "security, error: ", "request: file://" + folder + "/other.png"} {
		if !strings.Contains(found, want) {
			t.Errorf("no %q in\n%s", want, found)
		}
	}
	if axe := b.Axe(); len(axe) != 1 || !strings.HasPrefix(axe[0], "image-alt: ") {
		t.Errorf("axe: %q, want image-alt alone", axe)
	}

	b.Load(write("good.html", head+`</head><body><main><h1>Good</h1><p>One.</p><p style="break-before: page"></p></main></body></html>`))
	if found := b.Problems(); len(found) > 0 {
		t.Errorf("a good page: %q", found)
	}
	if axe := b.Axe(); len(axe) > 0 {
		t.Errorf("a good page: axe: %q", axe)
	}
	if h := Eval[string](b, "document.querySelector('h1').textContent"); h != "Good" {
		t.Errorf("heading %q", h)
	}
	pdf := filepath.Join(folder, "good.pdf")
	b.PDF(pdf, chromedp.PaperA4)
	pages := Pages(t, pdf)
	if len(pages) != 2 || Ink(pages[0]) == 0 || Ink(pages[1]) != 0 {
		t.Fatalf("%d pages, want one with a heading and an empty one", len(pages))
	}
	if texts := Texts(t, pdf); !slices.Equal(texts, []string{"Good One.", ""}) {
		t.Errorf("texts %q", texts)
	}
	// A4 is 210 mm wide, and 60 dots an inch are 496 dots.
	if w := pages[0].Bounds().Dx(); w < 495 || w > 497 {
		t.Errorf("a page is %d dots wide, want 496", w)
	}
}
