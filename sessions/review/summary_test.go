package review

import (
	"slices"
	"strings"
	"testing"

	"glidepace/sessions"
)

// To the nearest per cent, but what is under 80 % never reads 80 %.
func TestPercent(t *testing.T) {
	for want, r := range map[string]Ratio{
		"67 %": {Done: 18, Of: 27}, "79 %": {Done: 39, Of: 49}, "80 %": {Done: 4, Of: 5}, "81 %": {Done: 29, Of: 36}, "0 %": {Of: 4}, "100 %": {Done: 4, Of: 4},
	} {
		if r.finish(); r.Percent() != want {
			t.Errorf("%d of %d is %s, want %s", r.Done, r.Of, r.Percent(), want)
		}
	}
}

// Notes are listed with the day of their session, the newest first, from paper too, and
// from sessions that do not count.
func TestNotes(t *testing.T) {
	list := course(nil, "p y l y")
	list[0].Notes, list[1].Notes, list[2].Notes = []string{"slept badly", "hand cold"}, []string{"long walk"}, []string{"phone rang"}
	list[3].Date, list[3].Notes = sessions.Date{}, []string{"no clock"}
	var got []string
	c := only(t, list, Options{Today: day(9)})
	for _, line := range c.NotesReport().Lines {
		got = append(got, line.Label+": "+line.Text)
	}
	want := []string{"3 December: phone rang", "2 December: long walk", "1 December: hand cold", "1 December: slept badly", "date not known: no clock"}
	if !slices.Equal(got, want) {
		t.Errorf("%q, want %q", got, want)
	}
	if c := only(t, list, Options{Today: day(9), Since: day(3)}); len(c.Notes) != 2 {
		t.Errorf("since the third: %q", c.Notes)
	}
}

// Before a day has asked for anything, a share means nothing.
func TestTooEarly(t *testing.T) {
	c := only(t, with(course(dose(2, 2, 0, 1), "s"), func(s *Session) { s.Done, s.Planned, s.Level = 0, 3, &Level{3, 3, 1} }, 0), Options{Today: day(1)})
	for _, part := range []Part{c.Summary(), c.AmountReport(), c.PaceReport()} {
		for _, line := range part.Lines {
			if strings.Contains(line.Text, "0 of 0") || strings.Contains(line.Text, "interval") || line.Label == "satisfactory" {
				t.Errorf("%q", line)
			}
		}
	}
	if line := c.Summary().Lines[0]; line.Text != "too early to say; 0 of 3 repetitions done" {
		t.Errorf("%q", line)
	}
	if i := slices.Index(c.PaceReport().Lines, Line{"level", "3 of 3 repetitions a set planned last time, 0 of 3 done"}); i < 0 {
		t.Errorf("%q", c.PaceReport().Lines)
	}
}

// In plain words: a trend is told where p is under 0.05, to a tenth of a point a day.
func TestTrendInWords(t *testing.T) {
	for want, trend := range map[string]Trend{
		"falls by about 0.1 a day, over 14 days":     {Days: 14, Slope: -0.7, P: 0.049},
		"rises by about 1.5 a day, over 10 days":     {Days: 10, Slope: 10.5, P: 0.001},
		"falls by less than 0.1 a day, over 30 days": {Days: 30, Slope: -0.34, P: 0.001}, // 0.0486 a day
		"no clear trend": {Days: 14, Slope: -0.7, P: 0.05},
	} {
		if got := trend.words(); got != want {
			t.Errorf("%+v: %q, want %q", trend, got, want)
		}
	}
	if got := (&Trend{Days: 26, P: 0.03}).words(); got != "no clear trend" {
		t.Errorf("a slope of 0: %q", got)
	}
}
