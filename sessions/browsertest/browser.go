//go:build real

// Package browsertest looks at pages with a headless Chromium, for tests: what the
// browser complains about, what axe-core finds, and how a page looks on screen and on
// paper. A test that uses it needs chromium, pdftoppm (Debian: poppler-utils), and
// axe-core from npm in NODE_PATH.
package browsertest

import (
	"context"
	"encoding/json"
	"fmt"
	"net/url"
	"os"
	"path/filepath"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/chromedp/cdproto/cdp"
	"github.com/chromedp/cdproto/emulation"
	"github.com/chromedp/cdproto/log"
	"github.com/chromedp/cdproto/network"
	"github.com/chromedp/cdproto/page"
	"github.com/chromedp/cdproto/runtime"
	"github.com/chromedp/chromedp"
)

// Browser is one window. Its methods end the test where the browser fails.
type Browser struct {
	t   testing.TB
	ctx context.Context

	mu       sync.Mutex
	document string // the URL that was loaded
	problems []string
}

// Open starts a browser with a fresh profile, unless an option names one, and with
// more options of package chromedp. It ends with the test, at the latest after forty
// minutes.
func Open(t testing.TB, more ...chromedp.ExecAllocatorOption) *Browser {
	t.Helper()
	ctx, cancel := context.WithTimeout(context.Background(), 40*time.Minute)
	t.Cleanup(cancel)
	options := append(chromedp.DefaultExecAllocatorOptions[:], chromedp.NoSandbox) // root has none
	options = append(options, more...)
	ctx, end := chromedp.NewExecAllocator(ctx, options...)
	t.Cleanup(end)
	ctx, closeWindow := chromedp.NewContext(ctx)
	t.Cleanup(closeWindow)
	b := &Browser{t: t, ctx: ctx}
	if err := chromedp.Do(ctx); err != nil {
		t.Fatalf("no browser: %v", err)
	}
	if err := chromedp.Listen(ctx, b.hear); err != nil {
		t.Fatal(err)
	}
	if _, err := chromedp.Call(ctx, network.Enable, network.EnableParams{}); err != nil {
		t.Fatal(err)
	}
	return b
}

// hear keeps what is wrong with a page.
func (b *Browser) hear(event any) {
	b.mu.Lock()
	defer b.mu.Unlock()
	add := func(format string, args ...any) { b.problems = append(b.problems, fmt.Sprintf(format, args...)) }
	switch e := event.(type) {
	case *runtime.EventExceptionThrown:
		add("exception: %s", e.ExceptionDetails.Text)
	case *runtime.EventConsoleAPICalled:
		if e.Type == "error" || e.Type == "warning" || e.Type == "assert" {
			text, _ := json.Marshal(e.Args)
			add("console, %s: %s", e.Type, text)
		}
	case *log.EventEntryAdded: // what violates the Content-Security-Policy too
		if e.Entry.Level == "error" || e.Entry.Level == "warning" {
			add("%s, %s: %s", e.Entry.Source, e.Entry.Level, e.Entry.Text)
		}
	case *network.EventRequestWillBeSent:
		address := e.Request.URL
		if address != b.document && !strings.HasPrefix(address, "data:") && !strings.HasPrefix(address, "blob:") {
			add("request: %s", address)
		}
	}
}

// Do runs actions of package chromedp.
func (b *Browser) Do(actions ...chromedp.Action[chromedp.Void]) {
	b.t.Helper()
	if err := chromedp.Do(b.ctx, actions...); err != nil {
		b.t.Fatal(err)
	}
}

// Window opens another window of the browser.
func (b *Browser) Window() *Browser {
	b.t.Helper()
	ctx, closeWindow := chromedp.NewContext(b.ctx)
	b.t.Cleanup(closeWindow)
	w := &Browser{t: b.t, ctx: ctx}
	w.Do()
	return w
}

// Kill ends the browser at once, with all its windows.
func (b *Browser) Kill() {
	b.t.Helper()
	if err := chromedp.FromContext(b.ctx).Browser.Process().Kill(); err != nil {
		b.t.Fatal(err)
	}
}

// Before runs a script in each page before the page's own.
func (b *Browser) Before(script string) {
	b.t.Helper()
	Call(b, page.AddScriptToEvaluateOnNewDocument, page.AddScriptToEvaluateOnNewDocumentParams{Source: script})
}

// Dark has the page see a person who wants dark colors, or light ones.
func (b *Browser) Dark(is bool) {
	b.t.Helper()
	scheme := map[bool]string{true: "dark", false: "light"}[is]
	Call(b, emulation.SetEmulatedMedia, emulation.SetEmulatedMediaParams{
		Features: []*emulation.MediaFeature{{Name: "prefers-color-scheme", Value: scheme}}})
}

// Load shows a file, and forgets the problems of the one before.
func (b *Browser) Load(name string) {
	b.t.Helper()
	name, err := filepath.Abs(name)
	if err != nil {
		b.t.Fatal(err)
	}
	address := (&url.URL{Scheme: "file", Path: filepath.ToSlash(name)}).String()
	b.mu.Lock()
	b.document, b.problems = address, nil
	b.mu.Unlock()
	b.Do(chromedp.Navigate(address))
}

// Problems returns what went wrong since Load: messages on the console that are
// errors or warnings, exceptions, violations of the page's Content-Security-Policy,
// and every request other than for the page itself and for data: and blob:.
func (b *Browser) Problems() []string {
	Eval[bool](b, "new Promise(done => setTimeout(() => done(true), 200))") // they come a little later
	b.mu.Lock()
	defer b.mu.Unlock()
	return append([]string(nil), b.problems...)
}

// Eval returns the value of an expression in the page. A promise is waited for.
func Eval[T any](b *Browser, expression string) T {
	b.t.Helper()
	value, err := chromedp.Run(b.ctx, chromedp.Evaluate[T](expression, chromedp.EvalAwaitPromise))
	if err != nil {
		b.t.Fatalf("%.80s: %v", expression, err)
	}
	return value
}

// Call gives the browser a command of its protocol.
func Call[P, R any](b *Browser, command cdp.Command[P, R], params P) R {
	b.t.Helper()
	result, err := chromedp.Call(b.ctx, command, params)
	if err != nil {
		b.t.Fatalf("%s: %v", command.Method, err)
	}
	return result
}

// Axe returns the violations that axe-core finds, one line each with the elements.
func (b *Browser) Axe() []string {
	b.t.Helper()
	source, err := os.ReadFile(filepath.Join(os.Getenv("NODE_PATH"), "axe-core", "axe.min.js"))
	if err != nil {
		b.t.Fatalf("axe-core from npm is needed in NODE_PATH: %v", err)
	}
	Eval[bool](b, string(source)+";true")
	return Eval[[]string](b, `axe.run().then(found => found.violations.map(v =>
		v.id + ": " + v.help + ": " + v.nodes.map(n => n.html).join(" ").slice(0, 500)))`)
}

// Screenshot writes the whole page as PNG.
func (b *Browser) Screenshot(name string) {
	b.t.Helper()
	picture, err := chromedp.Run(b.ctx, chromedp.FullScreenshot(100))
	if err == nil {
		err = os.WriteFile(name, picture, 0o666)
	}
	if err != nil {
		b.t.Fatal(err)
	}
}

// PDF writes the page as it prints, on a paper such as [chromedp.PaperA4].
func (b *Browser) PDF(name string, paper chromedp.PaperSize) {
	b.t.Helper()
	text, err := chromedp.Run(b.ctx, chromedp.PrintToPDF(chromedp.PDFPaper(paper)))
	if err == nil {
		err = os.WriteFile(name, text, 0o666)
	}
	if err != nil {
		b.t.Fatal(err)
	}
}
