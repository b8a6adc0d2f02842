package paper

import (
	"fmt"
	"strings"
	"testing"

	"glidepace/pacer"
	"glidepace/sessions"
	"glidepace/sessions/diary"
	"glidepace/sessions/sessionstest"
)

// marksText writes ticks as "NUMBER:REPETITIONS RATINGS still NOTE", one after the other.
func marksText(ticks []diary.Tick) string {
	var list []string
	for _, k := range ticks {
		text := fmt.Sprintf("%d:%d %s", k.Number, k.Repetitions, sessions.BeforeAndAfter(k.Before, k.After))
		if k.NotSettled {
			text += " still"
		}
		list = append(list, strings.TrimSpace(text+" "+k.Note))
	}
	return strings.Join(list, " | ")
}

func TestMarksOfADay(t *testing.T) {
	for text, want := range map[string]string{
		"y":                  "1:10",
		"8":                  "1:8",
		"n":                  "",
		"0":                  "",
		"yy":                 "1:10 | 2:10",
		"nyn":                "2:10",
		"n 8":                "2:8",
		"8 8, 8":             "1:8 | 2:8 | 3:8",
		"y 2/0 3/0":          "1:10 2/0 → 3/0",
		"y 2030":             "1:10 2/0 → 3/0",
		"y2030":              "1:10 2/0 → 3/0",
		"8 2030 y 10/0 10/1": "1:8 2/0 → 3/0 | 2:10 10/0 → 10/1",
		"y2/0 y":             "1:10 2/0 → | 2:10",
		"y -/- 3/0":          "1:10 → 3/0",
		"y 2/- 3/-":          "1:10 2/- → 3/-",
		"yn y2030":           "1:10 | 3:10 2/0 → 3/0",
		"y 8":                "1:8",
		"y8 2030":            "1:8 2/0 → 3/0",
		"y 8 y 7":            "1:8 | 2:7",
		"yy 8":               "1:10 | 2:8",
		"y 8 7":              "1:8 | 2:7",
		"n 8 y 0/0":          "2:8 | 3:10 0/0 →",
		"y 2050 s":           "1:10 2/0 → 5/0 still",
		"y Still 8 2050 y":   "1:8 2/0 → 5/0 still | 2:10",
		"y2050# Cold Hands ": "1:10 2/0 → 5/0 Cold Hands",
		"y y s #1 of 2":      "1:10 | 2:10  still 1 of 2",
	} {
		ticks, err := readMarks(text, "2026-12-01", asked{repetitions: 10})
		if got := marksText(ticks); err != nil || got != want {
			t.Errorf("%q: %q, %v, want %q", text, got, err, want)
		}
		for _, k := range ticks {
			if k.Date != "2026-12-01" {
				t.Errorf("%q: date %q", text, k.Date)
			}
		}
	}
	for text, want := range map[string]string{
		"x":             `"x" is no mark`,
		"yes":           `"yes" is no mark`,
		"n8":            `"n8" is no mark`,
		"y 0":           `"0" is no mark`,
		"y 11":          "11 repetitions; allowed is 1 to 10",
		"8+6":           `"8+6" is for two sides, and this session works one: write one number`,
		"-3":            `"-3" is no mark`,
		"11":            "11 repetitions; allowed is 1 to 10",
		"2/0":           `"2/0" is a rating of a session that was not done`,
		"2030":          `"2030" is a rating of a session that was not done`,
		"n 2/0":         `"2/0" is a rating of a session that was not done`,
		"y 2/0 3/0 4/0": `"4/0" is one rating too many`,
		"y 2/0 2030":    `"2030" is one rating too many`,
		"y 11/0":        "rating 11; allowed is 0 to 10",
		"y 2/":          `"2/" is no mark`,
		"yyyyyy":        "number 6 of the day; allowed is 1 to 5",
		"12 11/0":       "12 repetitions; allowed is 1 to 10, as many as the session has; rating 11",
		"y 2/0 3/0 ho":  `"ho" is no mark`,
		"y\u00a02/0":    "is no mark",
		"s":             `"s" is of symptoms after a session that was not done; write y before it`,
		"y n s":         `"s" is of symptoms after a session that was not done`,
		"ys":            `"ys" is no mark`,
		"# ill":         "a note is of the last session of its line, and that was not done",
		"y n # ill":     "a note is of the last session of its line, and that was not done",
		"y # a\tb":      "take out the character U+0009",
		"999999999":     "999999999 repetitions; allowed is 1 to 10",
	} {
		if ticks, err := readMarks(text, "2026-12-01", asked{repetitions: 10}); err == nil || !strings.Contains(err.Error(), want) || strings.Contains(err.Error(), "\n") {
			t.Errorf("%q: %q, %v, want %q", text, marksText(ticks), err, want)
		}
	}
}

func TestMarksOfBothSides(t *testing.T) {
	tl, err := pacer.New(sessionstest.Parse(t, `glidepace: 1
title: Both
breath: {rate: 8}
exercises: [{glide: median-wrist, side: both, reps: 8}, {glide: median-slider, side: left, reps: 5}]
`))
	if err != nil {
		t.Fatal(err)
	}
	sheet := askedBy(tl, tl.Repetitions)
	if got := sheet.example(); got != "y 8+6: done, 8 on the right side and 6 on the left." {
		t.Error(got)
	}
	for text, want := range map[string]string{
		"y": "1:21", "y 8+6": "1:14", "8+13 8+0": "1:21 | 2:8", "y0+6 2030": "1:6 2/0 → 3/0", "0": "", "0+0": "",
	} {
		ticks, err := readMarks(text, "2026-12-01", sheet)
		if got := marksText(ticks); err != nil || got != want {
			t.Errorf("%q: %q, %v, want %q", text, got, err, want)
		}
	}
	for text, want := range map[string]string{
		"8":      `"8" does not say of which side: write both, as 8+6 for 8 on the right side and 6 on the left`,
		"y 14":   `"14" does not say of which side`,
		"y 9+0":  "9 repetitions on the right side; allowed is 0 to 8",
		"y 8+14": "14 repetitions on the left side; allowed is 0 to 13",
		"y 8+":   `"8+" is no mark`,
		"y 0+0":  `"0+0" is no mark`,
		"y -1+2": `"-1+2" is no mark`,
	} {
		if ticks, err := readMarks(text, "2026-12-01", sheet); err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("%q: %q, %v, want %q", text, marksText(ticks), err, want)
		}
	}
}
