//go:build real

package page

import (
	"fmt"
	"os"
	"strings"
	"testing"
	"time"

	"github.com/chromedp/chromedp"

	"glidepace/sessions"
	"glidepace/sessions/browsertest"
	"glidepace/sessions/diary"
)

// A page that goes away in the middle of a session has kept each repetition that was
// done. Another page at its place, with a changed prescription for the same patient,
// goes on with the diary. A second window waits.
func TestPageThatGoesAway(t *testing.T) {
	t.Parallel()
	profile, file := chromedp.UserDataDir(t.TempDir()), written(t, short)
	x := phone{browsertest.Open(t, profile), t}
	x.Load(file)
	x.begin()
	x.until("repetition 2 of 2")
	second := phone{x.Window(), t}
	second.Load(file)
	second.until("open in another window")
	x.Kill()

	if err := os.Rename(written(t, strings.NewReplacer("Invented", "Changed", "reps: 2", "reps: 3").Replace(short)), file); err != nil {
		t.Fatal(err)
	}
	x = phone{browsertest.Open(t, profile), t}
	x.Do(chromedp.EmulateViewport(390, 844))
	x.Load(file)
	x.until("Changed, right hand")
	x.until("Session 2 of 3 today")
	x.tap("Begin today", "Yes", "Next", "Next", "Next", "Skip", "Skip", "Begin")
	x.until("repetition 1 of 2") // no more than before, until that goes well
	x.tap("End", "Skip", "Skip", "Close")
	list := x.shared()
	if len(list) != 2 || list[0].Outcome != sessions.Interrupted || list[0].Done.Repetitions != 1 ||
		list[1].Title != "Changed, right hand" || list[1].Planned.Repetitions != 2 || list[1].Prescription == list[0].Prescription {
		t.Fatalf("kept: %+v", list)
	}
	x.tap("Back", "Settings", "Forget", "Forget")
	x.until("Nothing of it is on this phone")
	x.tap("Back")
	x.until("Session 1 of 3 today")
}

// Where the browser keeps nothing, the page says so, paces all the same, and shows and
// offers the session at its end.
func TestPageWithoutAStore(t *testing.T) {
	t.Parallel()
	for name, script := range map[string]string{
		"refused": `Object.defineProperty(globalThis, "indexedDB", {get() { throw new Error("refused for this test") }})`,
		"full":    `IDBObjectStore.prototype.put = function () { throw new DOMException("no room", "QuotaExceededError") }`,
	} {
		t.Run(name, func(t *testing.T) {
			x := open(t, short)
			x.Before(script)
			x.Do(chromedp.Reload())
			x.until("This browser keeps nothing")
			x.begin()
			x.until("repetition 1 of 2")
			x.tap("End")
			x.tap("Skip", "Skip")
			x.until("Or write this down")
			x.until("ended early")
			if list := x.sharedBy("Give this session"); len(list) != 1 || list[0].Outcome != sessions.EndedEarly || list[0].Source != diary.OnPage {
				t.Errorf("given: %+v", list)
			}
		})
	}
}

// A phone whose clock is behind its diary asks what day it is.
func TestPageWithAClockSetBack(t *testing.T) {
	t.Parallel()
	x := open(t, short)
	x.begin()
	x.until("repetition 1 of 2")
	x.tap("End", "Skip", "Skip", "Close")
	x.Before(`{ const D = Date, back = 40 * 864e5; globalThis.Date = class extends D {
		constructor(...a) { if (a.length) super(...a); else super(D.now() - back) } static now() { return D.now() - back } } }`)
	x.Do(chromedp.Reload())
	x.tap("Begin today")
	x.until("date seems wrong")
	x.tap("No")
	x.until("Next")
}

// A shaking finger taps Stop twice: what ends the session then lies under it, and must
// not hear the second tap.
func TestPageStoppedByTwoTaps(t *testing.T) {
	t.Parallel()
	x := open(t, neckSession)
	x.begin()
	x.until("repetition 1 of 2")
	at := browsertest.Eval[[]float64](x.Browser, fmt.Sprintf(point, "Stop", "Stop"))
	for _, after := range []time.Duration{0, 150 * time.Millisecond, 350 * time.Millisecond, 300 * time.Millisecond} {
		time.Sleep(after)
		x.Do(chromedp.MouseClickXY(at[0], at[1]))
	}
	x.until("It has settled")
	time.Sleep(time.Second)
	x.tap("Light-headed")
	x.until("Sit down")
}
