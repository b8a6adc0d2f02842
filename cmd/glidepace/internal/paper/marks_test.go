package paper

import (
	"fmt"
	"strings"
	"testing"

	"glidepace/sessions"
	"glidepace/sessions/diary"
)

// marksText writes ticks as "NUMBER:REPETITIONS RATINGS", one after the other.
func marksText(ticks []diary.Tick) string {
	var list []string
	for _, k := range ticks {
		list = append(list, strings.TrimSpace(fmt.Sprintf("%d:%d %s", k.Number, k.Repetitions, sessions.BeforeAndAfter(k.Before, k.After))))
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
	} {
		ticks, err := readMarks(text, "2026-12-01", 10)
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
		"y8":            `"y8" is no mark`,
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
		"999999999":     "999999999 repetitions; allowed is 1 to 10",
	} {
		if ticks, err := readMarks(text, "2026-12-01", 10); err == nil || !strings.Contains(err.Error(), want) || strings.Contains(err.Error(), "\n") {
			t.Errorf("%q: %q, %v, want %q", text, marksText(ticks), err, want)
		}
	}
}
