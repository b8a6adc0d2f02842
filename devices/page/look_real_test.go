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

	"glidepace/sessions/browsertest"
)

// A session in which there is time to look, with every button that there is, and with
// hostile texts.
const slow = `glidepace: 1
title: '"</script><img src=x onerror=alert(1)> & co, a long title'
patient: DEMO-9
breath: {rate: 4}
posture: none
set_up: 20s
exercises: [{glide: median-neck, side: left, reps: 2, note: "<b onclick=alert(2)>"}]
ease: {settle_within: 10s}
`

var windows = [][2]int64{{320, 568}, {568, 320}, {390, 844}, {844, 390}, {1024, 768}}

// misplaced lists what overlaps, is cut off or lies beyond the edge, and a Stop that is
// too small for a shaking thumb.
const misplaced = `(() => { const bad = [], run = document.getElementById("run")
	const moves = !run.hidden && !run.classList.contains("stands"), name = e => e.id || e.textContent
	const all = [...document.querySelectorAll("#run > *, #run header > *, #steer button, #said > *, #talk button, h1")]
		.filter(e => e.offsetParent && e.textContent.trim() && !e.matches("header, #steer, .unseen, .scale"))
	const box = new Map(all.map(e => [e, e.getBoundingClientRect()]))
	if (document.documentElement.scrollWidth > innerWidth) bad.push("wider than the window")
	for (const [e, r] of box) {
		if (r.left < -1 || r.right > innerWidth + 1) bad.push(name(e) + " is beyond the edge")
		if (moves && r.bottom > innerHeight + 1) bad.push(name(e) + " is below the edge")
		if (e.scrollHeight > e.clientHeight + 6 && e.id != "figure") bad.push(name(e) + " is cut by " + (e.scrollHeight - e.clientHeight))
		if (e.scrollWidth > e.clientWidth + 1 && e.id != "title" && e.id != "next") bad.push(name(e) + " is cut at its side")
		for (const [o, q] of box) if (moves && e != o && !e.contains(o) && !o.contains(e) &&
			Math.min(r.right, q.right) - Math.max(r.left, q.left) > 2 && Math.min(r.bottom, q.bottom) - Math.max(r.top, q.top) > 2)
			bad.push(name(e) + " lies over " + name(o))
	}
	if (moves && box.get(document.getElementById("stop"))?.height < innerHeight * .32) bad.push("Stop is too small")
	return bad })()`

// The page has nothing against it in any of its states, in light and dark, in windows
// of all sizes. With PICTURES in the environment, pictures of all go into that folder.
func TestPageLooksRight(t *testing.T) {
	t.Parallel()
	x := open(t, slow)
	n := 0
	look := func(state string) {
		t.Helper()
		n++
		for i, size := range windows {
			x.Do(chromedp.EmulateViewport(size[0], size[1]))
			x.Dark(i%2 == 1)
			for _, what := range browsertest.Eval[[]string](x.Browser, misplaced) {
				if state == "set-up" && strings.HasPrefix(what, "text is cut") {
					continue // what is to be read there may be long, and scrolls
				}
				t.Errorf("%s, %v: %s", state, size, what)
			}
			if folder := os.Getenv("PICTURES"); folder != "" {
				x.Screenshot(filepath.Join(folder, fmt.Sprintf("%02d-%s-%dx%d.png", n, strings.ReplaceAll(state, " ", "-"), size[0], size[1])))
			}
		}
		x.Do(chromedp.EmulateViewport(390, 844))
	}
	lookLong := func(state string) {
		t.Helper()
		look(state)
		for _, dark := range []bool{false, true} {
			x.Dark(dark)
			for _, found := range x.Axe() {
				t.Errorf("%s, dark %v: %s", state, dark, found)
			}
		}
	}
	x.until("Begin today")
	lookLong("home")
	x.tap("When to stop")
	x.until("Ask before starting")
	lookLong("everything to read")
	x.tap("Next", "Begin today")
	x.until("Take care")
	lookLong("briefing")
	x.tap("Next")
	x.until("Call emergency services")
	lookLong("whom to call")
	x.tap("Next")
	x.until("Be tall")
	lookLong("movement")
	x.tap("Next")
	x.until("Tingling or numbness now?")
	lookLong("rating")
	x.tap("3", "Skip")
	x.until("Ready?")
	lookLong("ready")
	x.tap("Begin")
	x.until("LEFT")
	look("set-up")
	x.until("INHALE")
	look("inhale")
	x.until("EXHALE")
	look("glide")
	x.tap("Pause")
	x.until("PAUSED")
	lookLong("paused")
	x.tap("Go on")
	x.until("EXHALE")
	x.tap("Stop")
	look("just stopped")
	x.until("Is it back to where it was?")
	lookLong("asked")
	x.tap("Pain")
	x.until("now?")
	lookLong("rating after")
	x.tap("7")
	x.tap("Skip")
	x.until("Back to where it was?")
	lookLong("settled")
	x.tap("Not yet")
	x.until("have passed")
	time.Sleep(9 * time.Second) // until it should have settled
	x.tap("Not yet")
	x.until("Close")
	lookLong("end")
	x.tap("Close", "Settings")
	x.until("Forget everything")
	lookLong("settings")
	x.tap("Back", "Give my diary")
	x.until("among your downloads")
	lookLong("give")
	if p := x.Problems(); len(p) > 0 {
		t.Errorf("the browser complains: %q", p)
	}
}
