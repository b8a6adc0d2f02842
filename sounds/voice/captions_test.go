package voice

import (
	"bytes"
	"fmt"
	"strings"
	"testing"

	"glidepace/pacer"
)

// The times of WebVTT: W3C WebVTT, (hh+:)?mm:ss.ttt.
func TestCaptions(t *testing.T) {
	line := laid(t, `glidepace: 1
title: "A <b> & --> C"
breath: {rate: 6, ratio: "1:1.5"}
lead_in: {breaths: 1}
set_up: 11s
exercises:
  - {own: {name: Slide, start: Hand <here>., out: Out., back: Back.}, side: right, reps: 2, range: half, rest: 0s}
`)
	var out bytes.Buffer
	if err := english(t).WriteCaptions(&out, line, tail); err != nil {
		t.Fatal(err)
	}
	const want = `WEBVTT

NOTE A &lt;b&gt; &amp; --&gt; C

00:00:00.000 --> 00:00:06.000
Sit or stand tall, shoulders low. Arms resting in your lap. Breathe softly.

00:00:06.000 --> 00:00:09.800
Breathe in.

00:00:09.800 --> 00:00:16.000
Breathe out.

00:00:16.000 --> 00:00:20.000
Right side. Hand &lt;here&gt;.

00:00:20.000 --> 00:00:21.000
Out.

00:00:21.000 --> 00:00:22.000
Back.

00:00:22.000 --> 00:00:27.000
Pain or strong tingling: stop.

00:00:27.000 --> 00:00:30.800
Start position. Breathe in.

00:00:30.800 --> 00:00:37.000
Out. Half the way. 1/2. Breathe out.

00:00:37.000 --> 00:00:40.800
Back. 1/2. Breathe in.

00:00:40.800 --> 00:00:47.000
Out. 2/2. Breathe out.

00:00:47.000 --> 00:00:50.800
Back. 2/2. Breathe in.

00:00:50.800 --> 00:00:54.800
Done. Let the arm hang and loosen it.
`
	if out.String() != want {
		t.Errorf("got:\n%swant:\n%s", out.String(), want)
	}
	// Where the sentences would not stand long enough to be read, they stand
	// together: 52 words in 5 s.
	out.Reset()
	if err := english(t).WriteCaptions(&out, read(t, "one-minute.yaml"), tail); err != nil {
		t.Fatal(err)
	}
	if want := "\n00:00:07.500 --> 00:00:12.500\nRight side. Let the arm float"; !strings.Contains(out.String(), want) {
		t.Errorf("no %q in\n%s", want, &out)
	}
	if got := vttTime(3723.0005); got != "01:02:03.001" {
		t.Errorf("time %s", got)
	}
}

// No caption repeats the arms in the lap, a caution, or a sentence of the
// posture.
func TestCaptionsSayAStandingTextOnce(t *testing.T) {
	for name, line := range wholeSessions(t) {
		var out bytes.Buffer
		if err := english(t).WriteCaptions(&out, line, tail); err != nil {
			t.Fatal(err)
		}
		w := english(t)
		once := []string{w.Words["stop-if"]}
		if line.Session().LeadIn > 0 {
			once = append(once, w.Words["lap"])
		}
		if line.Neck() {
			once = append(once, w.Words["neck-stop"])
		}
		for _, c := range w.glide(line.Session(), 0).posture {
			if line.PostureTexts() != nil && line.Steps[0].Move == pacer.Posture {
				once = append(once, c.Text)
			}
		}
		for _, text := range once {
			if n := strings.Count(strings.ToLower(out.String()), strings.ToLower(vttText(text))); n != 1 {
				t.Errorf("%s: %q stands in %d captions", name, text, n)
			}
		}
		sets := line.Sets()
		for _, s := range w.glide(line.Session(), 0).start {
			sides := map[string]bool{}
			for _, set := range sets {
				sides[fmt.Sprint(set.Exercise, set.Side)] = true
			}
			if n := strings.Count(out.String(), vttText(s.Text)); n == 0 || n > len(sides) {
				t.Errorf("%s: %q stands in %d captions", name, s.Text, n)
			}
		}
	}
}
