//go:build real

package page

import (
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/chromedp/chromedp"

	"glidepace/sessions"
	"glidepace/sessions/browsertest"
)

// A session of half a minute, of two repetitions.
const short = `glidepace: 1
title: Invented, right hand
patient: DEMO-7
dose: {per_day: 3, weeks: 2}
breath: {rate: 15}
posture: none
set_up: 3s
exercises: [{glide: median-wrist, side: right, reps: 2}]
ease: {settle_within: 10s}
`

// phone is a page in a browser.
type phone struct {
	*browsertest.Browser
	t *testing.T
}

// written writes the page of a session file, and returns its name.
func written(t *testing.T, session string) string {
	t.Helper()
	name := filepath.Join(t.TempDir(), "page.html")
	f, err := os.Create(name)
	if err != nil {
		t.Fatal(err)
	}
	s := parse(t, session)
	if err := Write(f, s.Title, Options{Session: session, Parts: s.Sounds.Parts, Volume: s.Sounds.Volume, Contact: "the clinic, <555 0100>"}); err != nil {
		t.Fatal(err)
	}
	if err := f.Close(); err != nil {
		t.Fatal(err)
	}
	return name
}

// open shows the page of a session file.
func open(t *testing.T, session string, more ...chromedp.ExecAllocatorOption) phone {
	t.Helper()
	x := phone{browsertest.Open(t, more...), t}
	x.Do(chromedp.EmulateViewport(390, 844))
	x.Load(written(t, session))
	return x
}

func parse(t *testing.T, session string) *sessions.Session {
	t.Helper()
	s, err := sessions.Parse("session.yaml", strings.NewReader(session))
	if err != nil {
		t.Fatal(err)
	}
	return s
}

// point waits until a button is in sight whose text begins so, and returns where it
// is.
const point = `new Promise((done, failed) => { const since = Date.now(); const look = () => {
	for (const b of document.querySelectorAll("button"))
		if (b.textContent.startsWith(%q) && b.offsetParent) {
			const r = b.getBoundingClientRect(); globalThis.pointed = b; return done([r.x + r.width / 2, r.y + r.height / 2]) }
	if (Date.now() - since > 30000) return failed(new Error("no button %s in: " + document.body.innerText.slice(0, 500)))
	setTimeout(look, 20) }; look() })`

// tap taps a button as soon as the page takes a tap.
func (x phone) tap(texts ...string) {
	x.t.Helper()
	for _, text := range texts {
		browsertest.Eval[[]float64](x.Browser, fmt.Sprintf(point, text, text))
		time.Sleep(700 * time.Millisecond) // or it would belong to the screen before
		at := browsertest.Eval[[]float64](x.Browser, fmt.Sprintf(point, text, text))
		x.Do(chromedp.MouseClickXY(at[0], at[1]))
		browsertest.Eval[bool](x.Browser, `new Promise(done => { const since = Date.now(); const look = () => // until the next screen
			pointed.offsetParent && Date.now() - since < 1000 ? setTimeout(look, 20) : done(true); setTimeout(look, 200) })`)
	}
}

// until waits for a text, a minute at most.
func (x phone) until(text string) {
	x.t.Helper()
	x.untilFor(text, time.Minute)
}

func (x phone) untilFor(text string, most time.Duration) {
	x.t.Helper()
	browsertest.Eval[bool](x.Browser, fmt.Sprintf(`new Promise((done, failed) => { const since = Date.now(); const look = () => {
		if (document.body.innerText.includes(%q)) return done(true)
		if (Date.now() - since > %d) return failed(new Error("not said: %s in: " + document.body.innerText.slice(0, 500)))
		setTimeout(look, 20) }; look() })`, text, most.Milliseconds(), text))
}

// begin begins a session, without ratings.
func (x phone) begin() {
	x.t.Helper()
	x.tap("Begin today", "Next", "Next", "Next", "Skip", "Skip", "Begin")
}
