//go:build real

package page

import (
	"flag"
	"image/png"
	"os"
	"path/filepath"
	"testing"
	"time"

	"github.com/chromedp/chromedp"
)

var update = flag.Bool("update", false, "take the picture of the page anew")

const usual = `glidepace: 1
title: First week, right hand
patient: DEMO-7
breath: {rate: 8}
lead_in: {breaths: 0}
posture: none
set_up: 3s
exercises: [{glide: median-slider, side: right, reps: 10}]
`

// The picture in the README is one of this page, and of its size.
func TestPagePicture(t *testing.T) {
	t.Parallel()
	kept := filepath.Join("testdata", "page.png")
	if !*update {
		f, err := os.Open(kept)
		if err != nil {
			t.Fatal(err)
		}
		defer f.Close()
		if c, err := png.DecodeConfig(f); err != nil || c.Width != 390 || c.Height != 844 {
			t.Errorf("%d by %d, %v", c.Width, c.Height, err)
		}
		return
	}
	x := open(t, usual)
	x.Do(chromedp.EmulateViewport(390, 844))
	x.begin()
	x.until("repetition 3 of 10")
	x.until("EXHALE")
	time.Sleep(1500 * time.Millisecond) // half-way out
	x.Screenshot(kept)
}
