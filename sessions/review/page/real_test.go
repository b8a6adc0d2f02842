//go:build real

package page

import (
	"context"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/chromedp/cdproto/cdp"
	"github.com/chromedp/cdproto/emulation"
	"github.com/chromedp/chromedp"
	"github.com/chromedp/chromedp/kb"

	"glidepace/sessions/browsertest"
)

// The page draws its charts in a browser, asks for nothing and complains about nothing.
// It can be used with the keyboard, is accessible in the light and in the dark, on a
// phone and on a large screen, and prints.
func TestInBrowser(t *testing.T) {
	folder := t.TempDir()
	keep := os.Getenv("SCREENSHOTS")
	if keep == "" {
		keep = folder
	}
	b := browsertest.Open(t)
	for _, c := range []struct {
		name     string
		patients int
	}{{"one", 1}, {"many", 3}} {
		name := filepath.Join(folder, c.name+".html")
		courses := clinic(t, c.patients)
		f, err := os.Create(name)
		if err != nil {
			t.Fatal(err)
		}
		if err := Write(f, courses, courses[0].To, false); err != nil {
			t.Fatal(err)
		}
		f.Close()
		for _, scheme := range []string{"light", "dark"} {
			for _, width := range []int64{390, 1024} {
				b.Do(chromedp.EmulateViewport(width, 800), prefers(scheme))
				b.Load(name)
				where := fmt.Sprintf("%s, %s, %d wide", c.name, scheme, width)
				if found := b.Problems(); len(found) > 0 {
					t.Errorf("%s: %q", where, found)
				}
				if found := b.Axe(); len(found) > 0 {
					t.Errorf("%s: axe: %q", where, found)
				}
				if w := browsertest.Eval[int64](b, "document.documentElement.scrollWidth"); w > width {
					t.Errorf("%s: the page is %d wide", where, w)
				}
				b.Screenshot(filepath.Join(keep, fmt.Sprintf("%s-%s-%d.png", c.name, scheme, width)))
			}
		}
		// Every chart has marks within it, a name and a text.
		if bad := browsertest.Eval[[]string](b, `[...document.querySelectorAll("figure")].filter(f => {
			const svg = f.querySelector("svg"), box = svg.getBoundingClientRect();
			const marks = [...svg.querySelectorAll("path[class], rect[class]")].map(m => m.getBoundingClientRect());
			const named = ["labelledby", "describedby"].every(a => document.getElementById(svg.getAttribute("aria-"+a)).textContent);
			return !named || !marks.length || marks.some(m => m.left < box.left || m.right > box.right || m.top < box.top || m.bottom > box.bottom);
		}).map(f => f.innerText)`); len(bad) > 0 {
			t.Errorf("%s: bad charts: %q", c.name, bad)
		}
		if n := browsertest.Eval[int](b, `document.querySelectorAll("figure").length`); n < 4*c.patients {
			t.Errorf("%s: %d charts", c.name, n)
		}
		// Tab reaches every link, every table that can be wider than the page, and what
		// can be opened, and shows where it is.
		b.Load(name)
		want := browsertest.Eval[int](b, `[...document.querySelectorAll("a, summary, [tabindex]")].filter(e => e.matches("summary") || !e.closest("details")).length`)
		reached := map[string]bool{}
		for range want {
			b.Do(chromedp.KeyEvent(kb.Tab))
			reached[browsertest.Eval[string](b, `(e => getComputedStyle(e).outlineStyle + [...document.querySelectorAll("*")].indexOf(e))(document.activeElement)`)] = true
		}
		for where := range reached {
			if !strings.HasPrefix(where, "solid") {
				t.Errorf("%s: the focus cannot be seen: %s", c.name, where)
			}
		}
		if len(reached) != want || want < 2*c.patients {
			t.Errorf("%s: Tab reaches %d of %d", c.name, len(reached), want)
		}
		for _, paper := range []chromedp.PaperSize{chromedp.PaperA4, chromedp.PaperLetter} {
			pdf := filepath.Join(keep, fmt.Sprintf("%s-%.0f.pdf", c.name, paper.Height))
			b.PDF(pdf, paper)
			for i, p := range browsertest.Pages(t, pdf) {
				if browsertest.Ink(p) == 0 {
					t.Errorf("%s: page %d is empty", pdf, i+1)
				}
			}
		}
	}
}

// prefers is an action that sets the colour scheme.
func prefers(scheme string) chromedp.Action[chromedp.Void] {
	return chromedp.Func(func(ctx context.Context, t *chromedp.Target) error {
		_, err := cdp.Call(ctx, t, emulation.SetEmulatedMedia, emulation.SetEmulatedMediaParams{
			Features: []*emulation.MediaFeature{{Name: "prefers-color-scheme", Value: scheme}}})
		return err
	})
}
