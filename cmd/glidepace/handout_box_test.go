package main

import (
	"fmt"
	"strings"
	"testing"

	"glidepace/devices/box"
	"glidepace/pacer"
	"glidepace/sessions/sessionstest"
)

// The strap is never on a side that is treated, and the page names the signs that this
// session can give, and no others.
func TestBoxPage(t *testing.T) {
	const file = "glidepace: 1\ntitle: T\nbreath: {rate: 6, match: %s}\nease: {tries: %d}\nexercises: [%s]\n"
	for _, c := range []struct {
		match     string
		tries     int
		exercises string
		says      []string
		not       []string
	}{
		{"exhale-on-glide", 1, "{glide: median-wrist, side: right, reps: 5}",
			[]string{"On the left upper arm.", "Stop number 2 ends the session.", "one pulse, strong then soft: Breathe out, and move out.", "two short taps: After the end:"},
			[]string{"In the neck glide", "right upper arm", "one pulse, soft then strong"}},
		{"exhale-on-glide", 1, "{glide: median-wrist, side: left, reps: 5}", []string{"On the right upper arm."}, []string{"left upper arm"}},
		{"breath-per-rep", 2, "{glide: median-wrist, side: both, reps: 4}",
			[]string{"On a thigh or at the waistband", "Stop number 3 ends the session.", "one pulse, soft then strong: Breathe in, and move out.", "two short taps: Move back"},
			[]string{"On the"}},
		{"exhale-on-glide", 0, "{glide: median-wrist, side: left, reps: 5}, {glide: median-neck, side: right, reps: 5}",
			[]string{"On a thigh or at the waistband", "Any press stops it at once, and the session has ended.", "In the neck glide: The same, and the session has ended."},
			[]string{"On the", "go on gentler"}},
	} {
		timeline, err := pacer.New(sessionstest.Parse(t, fmt.Sprintf(file, c.match, c.tries, c.exercises)))
		if err != nil {
			t.Fatal(err)
		}
		page := boxPage(&box.Default, timeline)
		text := page.Strap
		for _, table := range page.Tables {
			for _, row := range table.Rows {
				if row[0] == "" || row[1] == "" {
					t.Errorf("%s: half a row: %q", table.Title, row)
				}
				text += "\n" + row[0] + ": " + row[1]
			}
		}
		for _, want := range append(c.says, "Never on the arm, wrist or hand being treated.", "Not over broken skin, not on the neck or chest.", "pacemaker or stimulator, only if your clinician agrees", "three soft pulses", "five quick taps, a stutter: No session now", "three quick flashes and a long gap: Something is wrong") {
			if !strings.Contains(text, want) {
				t.Errorf("%s: no %q in\n%s", c.exercises, want, text)
			}
		}
		for _, not := range c.not {
			if strings.Contains(text, not) {
				t.Errorf("%s: %q in\n%s", c.exercises, not, text)
			}
		}
	}
}

func TestPaperOfCountry(t *testing.T) {
	for locale, want := range map[string]string{"": "A4", "C": "A4", "en_US.UTF-8": "Letter", "en_CA": "Letter", "de_DE.UTF-8": "A4", "en_GB": "A4", "en_U": "A4"} {
		t.Setenv("LC_ALL", "")
		t.Setenv("LC_PAPER", "")
		t.Setenv("LANG", locale)
		if got := paperOfCountry(); got != want {
			t.Errorf("LANG=%q: %s, want %s", locale, got, want)
		}
	}
}
