//go:build real

package page

import (
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/chromedp/chromedp"

	"glidepace/pacer"
	"glidepace/sessions"
	"glidepace/sessions/browsertest"
	"glidepace/sounds"
	"glidepace/sounds/out/outtest"
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

// open writes the page of a session file and shows it.
func open(t *testing.T, session string, more ...chromedp.ExecAllocatorOption) phone {
	t.Helper()
	name := filepath.Join(t.TempDir(), "page.html")
	f, err := os.Create(name)
	if err != nil {
		t.Fatal(err)
	}
	s := parse(t, session)
	if err := Write(f, s.Title, Options{Session: session, Parts: s.Sounds.Parts, Volume: s.Sounds.Volume}); err != nil {
		t.Fatal(err)
	}
	if err := f.Close(); err != nil {
		t.Fatal(err)
	}
	x := phone{browsertest.Open(t, more...), t}
	x.Do(chromedp.EmulateViewport(390, 844))
	x.Load(name)
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
			const r = b.getBoundingClientRect(); return done([r.x + r.width / 2, r.y + r.height / 2]) }
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
		time.Sleep(200 * time.Millisecond)
	}
}

// until waits for a text.
func (x phone) until(text string) {
	x.t.Helper()
	browsertest.Eval[bool](x.Browser, fmt.Sprintf(`new Promise((done, failed) => { const since = Date.now(); const look = () => {
		if (document.body.innerText.includes(%q)) return done(true)
		if (Date.now() - since > 60000) return failed(new Error("not said: %s in: " + document.body.innerText.slice(0, 500)))
		setTimeout(look, 20) }; look() })`, text, text))
}

// begin begins a session, without ratings.
func (x phone) begin() {
	x.t.Helper()
	x.tap("Begin today", "Go on", "Skip", "Skip", "Begin")
}

// loud is for a browser that plays to a sound server.
func loud(server *outtest.Server) []chromedp.ExecAllocatorOption {
	return []chromedp.ExecAllocatorOption{chromedp.Env(server.Env...), chromedp.Flag("mute-audio", false)}
}

// What comes out of the browser is what the program computes, sample by sample: so
// every tick is where the timeline has it, and nothing drifts. The screen follows
// within 50 ms.
func TestPageSoundsAsRendered(t *testing.T) {
	server := outtest.Start(t)
	x := open(t, short, loud(server)...)
	x.begin()
	browsertest.Eval[bool](x.Browser, `(globalThis.shown = [], new MutationObserver(() =>
		shown.push([document.getElementById("word").textContent, performance.timeOrigin + performance.now()])
	).observe(document.getElementById("word"), {childList: true, characterData: true, subtree: true}), true)`)
	heard := server.Record(t)
	x.until("Tingling or numbness now?") // once it has rung out
	heard.Stop()

	tl, err := pacer.New(parse(t, short))
	if err != nil {
		t.Fatal(err)
	}
	s := tl.Session()
	stream := sounds.New(tl, sounds.Settings{Parts: s.Sounds.Parts, Volume: s.Sounds.Volume})
	want := make([]int16, stream.Len())
	stream.Fill(want, 0)
	first := slices.IndexFunc(want, func(x int16) bool { return x > 200 || x < -200 })
	got := heard.Samples()
	begin := slices.IndexFunc(got, func(x int16) bool { return x == want[first] })
	for begin >= 0 && begin+1000 < len(got) && !slices.Equal(got[begin:begin+1000], want[first:first+1000]) {
		next := slices.IndexFunc(got[begin+1:], func(x int16) bool { return x == want[first] })
		if next < 0 {
			begin = -1
			break
		}
		begin += 1 + next
	}
	if begin < 0 {
		t.Fatal("the first sound of the session was not heard as it is computed")
	}
	want = want[first:]
	n := min(len(want), len(got)-begin)
	if n < len(want) {
		t.Errorf("only %d of %d samples were recorded", n, len(want))
	}
	for i := range n {
		if got[begin+i] != want[i] {
			t.Fatalf("sample %d of %d (%.3f s) is %d, want %d", i, n, float64(i)/pacer.SampleRate, got[begin+i], want[i])
		}
	}
	t.Logf("%d samples are the same", n)

	type change struct {
		word string
		at   float64
	}
	zero := heard.Time(begin - first) // when the timeline began, as it was heard
	late := 0.0
	for _, c := range browsertest.Eval[[][]any](x.Browser, "shown") {
		word, at := c[0].(string), time.UnixMicro(int64(c[1].(float64)*1000))
		for _, s := range tl.Steps {
			if d := at.Sub(zero.Add(s.Onset())); strings.EqualFold(s.Breath.String(), word) && d.Abs() < time.Second {
				late = max(late, d.Abs().Seconds())
			}
		}
	}
	t.Logf("the screen is at most %.0f ms from the sound", late*1000)
	if late > 0.05 || late == 0 {
		t.Errorf("the screen is %.0f ms from the sound", late*1000)
	}
	if p := x.Problems(); len(p) > 0 {
		t.Errorf("the browser complains: %q", p)
	}
}

// A stop is silent within 100 ms, wherever it comes.
func TestPageStopIsSilent(t *testing.T) {
	server := outtest.Start(t)
	x := open(t, short, loud(server)...)
	x.begin()
	heard := server.Record(t)
	x.until("repetition 1 of 2")
	time.Sleep(time.Second)
	pressed := browsertest.Eval[float64](x.Browser, `new Promise(done => document.addEventListener("click", e =>
		done(performance.timeOrigin + e.timeStamp), {capture: true, once: true}) || setTimeout(() => document.getElementById("stop").click(), 50))`)
	time.Sleep(time.Second)
	heard.Stop()
	took := heard.LastSound().Sub(time.UnixMicro(int64(pressed * 1000)))
	t.Logf("silent after %v", took)
	if took > 100*time.Millisecond {
		t.Errorf("silent after %v", took)
	}
}
