//go:build real

package main

import (
	"os"
	"path/filepath"
	"testing"

	"glidepace/sessions/browsertest"
)

// Four movements of both sides, the neck among them, have the most to say.
const manyWords = `glidepace: 1
title: Invented, four movements
breath: {rate: 6}
exercises:
  - {glide: median-wrist, side: both, reps: 10}
  - {glide: median-slider, side: both, reps: 10}
  - {glide: ulnar-elbow, side: both, reps: 10}
  - {glide: median-neck, side: both, reps: 10}
`

// With the words of the voice a page stays under 4 MB, and a browser can read them.
func TestRealPageIsSmall(t *testing.T) {
	many, _ := session(t, manyWords)
	b := browsertest.Open(t)
	for _, file := range []string{examples + "first-week.yaml", examples + "both-hands.yaml", many} {
		name := filepath.Join(t.TempDir(), "page.html")
		tool(t, program(t), "page", file, "-o", name)
		info, err := os.Stat(name)
		if err != nil {
			t.Fatal(err)
		}
		t.Logf("%s: %d bytes", filepath.Base(file), info.Size())
		if info.Size() >= 4e6 {
			t.Errorf("%s: the page has %d bytes", file, info.Size())
		}
		b.Load(name)
		lengths := browsertest.Eval[[]float64](b, `(async () => {
			const config = JSON.parse(document.getElementById("config").textContent), context = new OfflineAudioContext(1, 1, 48000)
			const read = clip => context.decodeAudioData(Uint8Array.from(atob(clip), c => c.charCodeAt(0)).buffer)
			return Promise.all(Object.values(config.voice).map(async i => (await read(config.clips[i])).duration))
		})()`)
		for _, seconds := range lengths {
			if seconds < 0.2 || seconds > 15 {
				t.Errorf("%s: a cue of %v s", file, seconds)
			}
		}
		if len(lengths) < 50 {
			t.Errorf("%s: %d cues", file, len(lengths))
		}
	}
}
