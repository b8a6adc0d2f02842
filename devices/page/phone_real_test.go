//go:build real

package page

import (
	"testing"
	"time"

	"github.com/chromedp/cdproto/browser"
	cdppage "github.com/chromedp/cdproto/page"
	"github.com/chromedp/chromedp"

	"glidepace/sessions"
	"glidepace/sessions/browsertest"
)

// watched keeps what the page asks of the phone: its sound, the vibration with the
// moments, and the locks of the screen.
const watched = `{
	const A = AudioContext
	globalThis.AudioContext = class extends A { constructor(o) { super(o); globalThis.sound = this } }
	globalThis.buzzes = []
	navigator.vibrate = ms => { buzzes.push([ms, performance.now()]); return true }
	globalThis.locks = []
	const request = navigator.wakeLock.request.bind(navigator.wakeLock)
	navigator.wakeLock.request = async kind => { const lock = await request(kind); locks.push(lock); return lock }
}`

// openWatched opens the page of a session with what is above.
func openWatched(t *testing.T, session string, more ...chromedp.ExecAllocatorOption) phone {
	x := open(t, session, more...)
	x.Before(watched)
	x.Do(chromedp.Reload())
	return x
}

// wantWhole fails unless the page gives one session, whole and no more.
func (x phone) wantWhole() {
	x.t.Helper()
	list := x.given()
	if len(list) != 1 || list[0].Outcome != sessions.Completed || list[0].Done.Repetitions != 2 {
		x.t.Errorf("given: %+v", list)
	}
}

// When the phone takes the sound away in a movement, as for a call, the session is
// paused. It goes on only when the patient says so, once there is sound again.
func TestPageWithoutItsSound(t *testing.T) {
	x := openWatched(t, short)
	x.tap("Begin today", "Next", "Next", "Next", "Skip", "Skip")
	const gone = `(sound.resume = () => Promise.reject(new Error("a call")), sound.suspend().then(() => true))`
	browsertest.Eval[bool](x.Browser, gone)
	x.tap("Begin")
	x.until("PAUSED") // before the first step
	browsertest.Eval[bool](x.Browser, `delete sound.resume`)
	x.tap("Go on")
	x.until("repetition 1 of 2")
	x.until("EXHALE")
	browsertest.Eval[bool](x.Browser, gone)
	x.until("PAUSED")
	x.until("repetition 1 of 2")
	x.tap("Go on")
	time.Sleep(4 * time.Second)
	browsertest.Eval[bool](x.Browser, `delete sound.resume`)
	time.Sleep(2 * time.Second)
	x.until("PAUSED") // there was no sound when it went on
	x.tap("Go on")
	x.wantWhole()
	if p := x.Problems(); len(p) > 0 {
		t.Errorf("the browser complains: %q", p)
	}
}

// minimize puts the window out of sight, or back.
func (x phone) minimize(state browser.WindowState) {
	x.t.Helper()
	window := browsertest.Call(x.Browser, browser.GetWindowForTarget, browser.GetWindowForTargetParams{})
	browsertest.Call(x.Browser, browser.SetWindowBounds, browser.SetWindowBoundsParams{WindowID: window.WindowID, Bounds: &browser.Bounds{WindowState: state}})
	time.Sleep(200 * time.Millisecond)
}

// A hidden page goes on with its session. Frozen, it is paused where it was.
func TestPageHidden(t *testing.T) {
	x := openWatched(t, short, chromedp.Flag("disable-background-timer-throttling", false),
		chromedp.Flag("disable-renderer-backgrounding", false), chromedp.Flag("disable-backgrounding-occluded-windows", false))
	x.begin()
	x.until("repetition 1 of 2")
	x.minimize(browser.WindowStateMinimized)
	if state := browsertest.Eval[string](x.Browser, "document.visibilityState"); state != "hidden" {
		t.Fatalf("the page is %s", state)
	}
	began := time.Now()
	x.until("Tingling or numbness now?")
	if took := time.Since(began); took > 20*time.Second {
		t.Errorf("the rest of 13 s took %v", took)
	}
	x.minimize(browser.WindowStateNormal)
	x.wantWhole()

	x.tap("Back", "Begin today", "Yes", "Next", "Skip", "Skip", "Begin")
	x.until("repetition 1 of 2")
	browsertest.Call(x.Browser, cdppage.SetWebLifecycleState, cdppage.SetWebLifecycleStateParams{State: cdppage.SetWebLifecycleStateStateFrozen})
	time.Sleep(20 * time.Second) // longer than the session
	browsertest.Call(x.Browser, cdppage.SetWebLifecycleState, cdppage.SetWebLifecycleStateParams{State: cdppage.SetWebLifecycleStateStateActive})
	x.until("PAUSED")
	x.until("repetition 1 of 2")
	x.tap("End the session", "Skip", "Skip", "Close")
	if list := x.shared(); len(list) != 2 || list[1].Done.Repetitions != 0 {
		t.Errorf("given: %+v", list)
	}
}

// The phone vibrates with the steps, and no more after a stop than to say that it was
// understood. The screen stays on as long as the session runs.
func TestPageVibrates(t *testing.T) {
	x := openWatched(t, short)
	x.begin()
	browsertest.Eval[bool](x.Browser, `(globalThis.shown = [], new MutationObserver(() =>
		shown.push([document.getElementById("word").textContent, performance.now()])
	).observe(document.getElementById("word"), {childList: true, subtree: true}), true)`)
	x.until("repetition 2 of 2")
	x.until("EXHALE")
	if n := browsertest.Eval[int](x.Browser, "locks.filter(l => !l.released).length"); n != 1 {
		t.Errorf("%d locks keep the screen on", n)
	}
	// Each breath has begun to be felt shortly before it is shown.
	off := browsertest.Eval[[]float64](x.Browser, `shown.filter(([word]) => word == "INHALE" || word == "EXHALE").map(([, at]) =>
		buzzes.filter(([ms]) => ms > 0).map(([, b]) => at - b).sort((a, b) => Math.abs(a) - Math.abs(b))[0])`)
	t.Logf("felt before it is shown, ms: %.0f", off)
	if len(off) < 3 {
		t.Errorf("%d breaths were shown", len(off))
	}
	for _, ms := range off {
		if ms < -50 || ms > 100 {
			t.Errorf("a breath is felt %.0f ms before it is shown", ms)
		}
	}
	after := browsertest.Eval[[][]float64](x.Browser, `new Promise(done => { const began = performance.now(), n = buzzes.length
		document.getElementById("stop").click()
		setTimeout(() => done(buzzes.slice(n).map(([ms, at]) => [ms, at - began])), 4000) })`)
	t.Logf("after the stop: %.0f", after)
	if len(after) == 0 || after[0][0] != 0 || after[0][1] > 50 {
		t.Errorf("the motor is not off at once")
	}
	for _, b := range after {
		if b[0] > 0 && (b[1] < 290 || b[1] > 1500) {
			t.Errorf("it vibrates %.0f ms after the stop", b[1])
		}
	}
	if last := after[len(after)-1]; last[0] != 0 {
		t.Error("the motor stays on")
	}
	x.tap("Pain")
	x.until("Stop for today")
	if n := browsertest.Eval[int](x.Browser, "locks.filter(l => !l.released).length"); n != 0 {
		t.Error("the screen stays on")
	}
}
