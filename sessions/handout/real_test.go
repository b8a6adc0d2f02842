//go:build real

package handout

import (
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"github.com/chromedp/chromedp"

	"glidepace/sessions"
	"glidepace/sessions/browsertest"
	"glidepace/sessions/sessionstest"
)

const fourFile = `glidepace: 1
title: Four exercises
patient: DEMO-8
dose: {per_day: 1-3, weeks: 8}
breath: {rate: 7, ratio: "1:1.5"}
lead_in: {breaths: 4}
exercises:
  - {glide: median-wrist, side: both, reps: 8, sets: 2}
  - {glide: median-slider, side: both, reps: 8}
  - {glide: ulnar-slider, side: left, reps: 6, range: half, note: Only as far as it stays easy.}
  - own: {name: Table slide, start: The forearm rests on the table., out: The hand slides forward., back: The hand slides back.}
    side: right
    reps: 5
progress: {reps_from: 4}
`

// In a browser and on both papers, handouts are whole: nothing is wrong for a screen
// reader, nothing is loaded, each picture is drawn, and no page break cuts a movement or
// the cautions.
func TestHandoutsInABrowser(t *testing.T) {
	sign := BoxTable{"The light", "You see", "It says", [][2]string{{"one blink", "running"}}}
	for _, c := range []struct {
		name, file    string
		before, diary int // pages at most: before the diary, and of it
		box           *Box
	}{
		{"first week", example(t, "first-week.yaml"), 2, 3, nil},
		{"both hands", example(t, "both-hands.yaml"), 2, 2, nil},
		{"working up", example(t, "working-up.yaml"), 3, 2, nil},
		{"neck", neckFile, 3, 1, nil},
		{"four exercises", fourFile, 5, 8, nil},
		{"lent", example(t, "both-hands.yaml"), 3, 2, &Box{"Box 3", "On a thigh.", []BoxTable{sign}, []string{"Keep it dry."}}},
	} {
		t.Run(c.name, func(t *testing.T) {
			b := browsertest.Open(t)
			page := filepath.Join(t.TempDir(), "handout.html")
			if err := os.WriteFile(page, []byte(pageOf(t, c.file, Options{Contact: "555 0100", SoundFile: "week-1.mp3", Box: c.box})), 0o666); err != nil {
				t.Fatal(err)
			}
			b.Load(page)
			if found := b.Problems(); len(found) > 0 {
				t.Errorf("%q", found)
			}
			if found := b.Axe(); len(found) > 0 {
				t.Errorf("axe-core: %q", found)
			}
			if empty := browsertest.Eval[int](b, `[...document.querySelectorAll("svg")].filter(e => e.getBBox().width < 20 || e.getBoundingClientRect().width < 20).length`); empty > 0 {
				t.Errorf("%d pictures are not drawn", empty)
			}
			for name, paper := range map[string]chromedp.PaperSize{"A4": chromedp.PaperA4, "Letter": chromedp.PaperLetter} {
				pdf := filepath.Join(t.TempDir(), name+".pdf")
				b.PDF(pdf, paper)
				for i, picture := range browsertest.Pages(t, pdf) {
					if ink := browsertest.Ink(picture); ink < 0.01 {
						t.Errorf("%s: page %d is nearly empty: %.4f", name, i+1, ink)
					}
				}
				texts := browsertest.Texts(t, pdf)
				diary := place(t, texts, "Tick the box after each session.")
				t.Logf("%s: %d pages and %d of the diary", name, diary, len(texts)-diary)
				if diary > c.before || len(texts)-diary > c.diary {
					t.Errorf("%s: more than %d and %d", name, c.before, c.diary)
				}
				for first, last := range wholes(sessionstest.Parse(t, c.file)) {
					if _, rest, _ := strings.Cut(texts[place(t, texts, first)], first); !strings.Contains(rest, last) {
						t.Errorf("%s: %q is not on one page, to %q", name, first, last)
					}
				}
			}
		})
	}
}

// wholes returns the beginning and the end of what no page break may cut.
func wholes(s *sessions.Session) map[string]string {
	parts := map[string]string{
		"Take care Before a session": "is not a medical device.",
		"How often":                  "loosen it for",
		"Your breath":                "while it comes back.",
	}
	if s.Breath.Match == sessions.BreathPerRep {
		parts["Your breath"] = "Let the breath flow all the time."
	}
	for _, g := range glidesOf(s) {
		last := g.Back
		if n := len(g.Watch); n > 0 {
			last = g.Watch[n-1]
		}
		parts[g.Heading] = last
	}
	return parts
}

// place returns the first page that has a text.
func place(t *testing.T, pages []string, text string) int {
	t.Helper()
	i := slices.IndexFunc(pages, func(page string) bool { return strings.Contains(page, text) })
	if i < 0 {
		t.Fatalf("%q is on no page of %q", text, pages)
	}
	return i
}
