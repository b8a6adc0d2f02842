//go:build real

package page

import (
	"fmt"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/chromedp/cdproto/accessibility"
	"github.com/chromedp/cdproto/dom"
	"github.com/chromedp/cdproto/emulation"
	"github.com/chromedp/chromedp"
	"github.com/chromedp/chromedp/kb"

	"glidepace/devices/screen/scene"
	"glidepace/pacer"
	"glidepace/sessions/browsertest"
)

// key presses a key.
func (x phone) key(key string) { x.t.Helper(); x.Do(chromedp.KeyEvent(key)) }

// focused is the text of the button that has the focus, or the id of what else has it.
// It must be in sight, with an outline.
func (x phone) focused() string {
	x.t.Helper()
	text := browsertest.Eval[string](x.Browser, `(() => { const e = document.activeElement
		if (e == document.body || !e.offsetParent) return "nothing"
		if (!e.matches(":focus-visible") || getComputedStyle(e).outlineStyle == "none") return "unseen: " + e.id + e.textContent
		return e.matches("button") ? e.textContent : e.id })()`)
	if strings.HasPrefix(text, "unseen: ") {
		x.t.Errorf("the focus is %s", text)
	}
	return text
}

// press goes to a button by Tab alone and presses it with a key.
func (x phone) press(text, key string) {
	x.t.Helper()
	browsertest.Eval[[]float64](x.Browser, fmt.Sprintf(point, text, text))
	time.Sleep(700 * time.Millisecond) // or it would belong to the screen before
	for i := range 30 {
		now := x.focused()
		if i == 0 && now == "nothing" { // later, Tab may leave the page and come back
			x.t.Errorf("on the way to %q the focus was lost", text)
		}
		if strings.HasPrefix(now, text) {
			x.key(key)
			return
		}
		x.key("\t")
	}
	x.t.Fatalf("Tab does not come to %q", text)
}

// A whole session by keyboard alone: a stop, and going on, and the diary given.
func TestPageByKeyboard(t *testing.T) {
	t.Parallel()
	x := open(t, strings.Replace(short, "settle_within: 10s", "settle_within: 30s", 1))
	x.until("Begin today")
	x.key("\t")
	for i, text := range []string{"Begin today", "Next", "Next", "Next", "4", "Skip", "Begin"} {
		x.press(text, []string{kb.Enter, " "}[i%2])
	}
	x.until("repetition 1 of 2")
	x.until("EXHALE")
	if f := x.focused(); f != "Stop" {
		t.Errorf("in a session the focus is on %q", f)
	}
	x.key(" ")
	x.until("It has settled")
	x.key(kb.Enter) // a second time, out of fright
	x.key(" ")
	time.Sleep(6 * time.Second)
	x.until("since you stopped")
	x.press("It has settled", kb.Enter)
	x.until("EXHALE")
	if f := x.focused(); f != "Stop" {
		t.Errorf("once it goes on the focus is on %q", f)
	}
	x.press("Pause", kb.Enter)
	x.until("PAUSED")
	if f := x.focused(); f != "Go on" {
		t.Errorf("paused, the focus is on %q", f)
	}
	time.Sleep(700 * time.Millisecond) // or it would be the same press
	x.key(" ")
	x.until("now?")
	x.press("5", " ")
	x.press("Skip", kb.Enter)
	x.press("Yes, now", kb.Enter)
	x.press("Close", kb.Enter)
	x.press("Give", kb.Enter)
	x.until("among your downloads")
}

// named returns the nodes of the accessibility tree with a role, by their names.
func (x phone) named(role string) (names []string, nodes map[string]*accessibility.Node) {
	x.t.Helper()
	nodes = map[string]*accessibility.Node{}
	for _, n := range browsertest.Call(x.Browser, accessibility.GetFullAXTree, accessibility.GetFullAXTreeParams{}).Nodes {
		if n.Ignored || n.Role == nil || strings.Trim(string(n.Role.Value), `"`) != role {
			continue
		}
		name := ""
		if n.Name != nil {
			name = strings.Trim(string(n.Name.Value), `"`)
		}
		names = append(names, name)
		nodes[name] = n
	}
	return names, nodes
}

// choose presses a button that the accessibility tree names, on a screen whose text
// the tree has too.
func (x phone) choose(question, answer string) {
	x.t.Helper()
	for end := time.Now().Add(time.Minute); time.Now().Before(end); time.Sleep(100 * time.Millisecond) {
		texts, _ := x.named("StaticText")
		names, nodes := x.named("button")
		if slices.Contains(names, "") {
			x.t.Errorf("a button has no name, beside %q", names)
		}
		i := slices.IndexFunc(names, func(n string) bool { return strings.HasPrefix(n, answer) })
		if i < 0 || !strings.Contains(strings.Join(texts, " "), question) {
			continue
		}
		time.Sleep(700 * time.Millisecond)
		browsertest.Call(x.Browser, dom.Focus, dom.FocusParams{BackendNodeID: nodes[names[i]].BackendDOMNodeID})
		x.key(kb.Enter)
		return
	}
	texts, _ := x.named("StaticText")
	names, _ := x.named("button")
	x.t.Fatalf("the tree has no %q with %q, but %q with %q", question, answer, texts, names)
}

// A whole session by the accessibility tree alone, with little motion: every question
// can be answered, and each step is told in one polite line, as the program's teller
// has it.
func TestPageByAccessibilityTree(t *testing.T) {
	t.Parallel()
	x := open(t, short)
	browsertest.Call(x.Browser, emulation.SetEmulatedMedia, emulation.SetEmulatedMediaParams{
		Features: []*emulation.MediaFeature{{Name: "prefers-reduced-motion", Value: "reduce"}}})
	x.Do(chromedp.Reload())
	x.choose("Session 1 of 3 today", "Begin today")
	x.choose("Take care", "Next")
	x.choose("Call emergency services", "Next")
	x.choose("Let the arm float", "Next")
	x.choose("Tingling or numbness now?", "2")
	x.choose("Pain now?", "0")
	browsertest.Eval[bool](x.Browser, `(globalThis.told = [], globalThis.drawn = 0,
		new MutationObserver(() => told.push(document.getElementById("line").textContent)).observe(document.getElementById("line"), {childList: true}),
		new MutationObserver(() => drawn++).observe(document.getElementById("figure"), {childList: true}), true)`)
	x.choose("Ready?", "Begin")
	if live := browsertest.Eval[string](x.Browser, `document.querySelector("[aria-live=polite]").id`); live != "line" {
		t.Errorf("polite is %q", live)
	}
	x.choose("Tingling or numbness now?", "2")
	x.choose("Pain now?", "1")
	x.choose("Back to where it was?", "Yes")
	x.choose("It is in the diary", "Close")

	tl, err := pacer.New(parse(t, short))
	if err != nil {
		t.Fatal(err)
	}
	teller := scene.NewTeller(scene.Touch)
	var want []string
	tell := func(e pacer.Event) {
		e.Timeline = tl
		if line := teller.Line(e); line != "" {
			want = append(want, line)
		}
	}
	tell(pacer.Event{Kind: pacer.Began})
	for i := range tl.Steps {
		tell(pacer.Event{Kind: pacer.Stepped, Step: i})
	}
	tell(pacer.Event{Kind: pacer.Ended, Outcome: "completed"})
	got := slices.DeleteFunc(browsertest.Eval[[]string](x.Browser, "told"), func(line string) bool { return line == "" })
	if !slices.Equal(got, want) {
		t.Errorf("told\n%q, want\n%q", got, want)
	}
	if n := browsertest.Eval[int](x.Browser, "drawn"); n > len(tl.Steps)+3 {
		t.Errorf("with little motion the picture changes %d times in %d steps", n, len(tl.Steps))
	}
}
