package page

import (
	"bytes"
	"encoding/xml"
	"errors"
	"io"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"testing"

	"glidepace/sessions"
	"glidepace/sessions/diary"
	"glidepace/sessions/diary/diarytest"
	"glidepace/sessions/review"
)

func day(t *testing.T, text string) sessions.Date {
	t.Helper()
	d, err := sessions.ParseDate(text)
	if err != nil {
		t.Fatal(err)
	}
	return d
}

func share(done, of int, low, high float64) review.Share {
	return review.Share{Ratio: review.Ratio{Done: done, Of: of, Share: float64(done) / float64(of)}, Low: low, High: high}
}

// known is a course of two weeks. What is drawn lies between x = 42 and 352, 310 wide,
// and y = 26 and 192, 166 high.
func known(t *testing.T) *review.Course {
	c := &review.Course{Patient: "K-204", Title: "First week", From: day(t, "2026-12-07"), To: day(t, "2026-12-20")}
	c.Weeks = []review.Week{
		{Year: 2026, Week: 50, From: c.From, Sessions: share(3, 4, 0.25, 0.95)},
		{Year: 2026, Week: 51, From: day(t, "2026-12-14"), Sessions: share(9, 10, 0.6, 1)},
	}
	c.Adherence = &review.Adherence{From: c.From, Sessions: share(12, 14, 0.6, 0.96)}
	c.Tingling = review.Rating{Name: "tingling", Baseline: new(4), Before: &review.Trend{Slope: -7}, Days: []review.RatingOfDay{
		{Date: c.From, Before: new(5.0), After: new(4.5)},
		{Date: day(t, "2026-12-08"), Before: new(4.0)},
		{Date: c.To, Before: new(2.0)},
	}}
	c.Stops = []review.StopAt{{Date: c.To, Stop: review.Stop{Symptom: sessions.Tingling, InSet: true, Exercise: 1, Set: 1, Rep: 7, Settled: 90}}}
	c.Settling = review.Settling{Timed: 2, Slowest: 240}
	c.Level = &review.Level{Reps: 5, Goal: 10, Rate: 0.9}
	c.Sessions = []*review.Session{
		{Date: c.From, Settled: 240, Before: sessions.Ratings{Tingling: new(5)}, After: sessions.Ratings{Tingling: new(6)}, Level: &review.Level{Reps: 10, Goal: 10, Rate: 1}},
		{Date: c.To, NotSettled: true, Before: sessions.Ratings{Tingling: new(2)}, Level: c.Level},
	}
	return c
}

// What is drawn of the known course stands where it must, worked out by hand.
func TestCharts(t *testing.T) {
	c := known(t)
	for _, x := range []struct {
		name  string
		chart *chart
		want  []string
	}{
		// A week is 310/2 = 155 wide and its bar 93 of them: 42 + 155/2 = 119.5.
		{"adherence", adherence(c.Weeks), []string{
			`<rect class="low" x="73" y="67.5" width="93" height="124.5" fill="none"`,             // 192 - 0.75*166 = 67.5
			`<rect class="enough" x="228" y="42.6" width="93" height="149.4" fill="currentColor"`, // 192 - 0.9*166 = 42.6
			`<path d="M116.5 34.3h6M119.5 34.3V150.5M116.5 150.5h6"/>`,                            // 0.95: 34.3; 0.25: 150.5
			`<path d="M42 59.2H352" stroke-dasharray="6 3"/>`,                                     // 80 %
			`y="207" text-anchor="middle">7 Dec<`, `y="221" text-anchor="middle">3/4<`, `>14 Dec<`, `>9/10<`,
		}},
		// 14 days, 310/14 = 22.14 wide: the first at 42 + 11.07 = 53.1, the last at 340.9.
		// A point is 166/11.5 = 14.43 high.
		{"ratings", ratings(c, &c.Tingling, func(r sessions.Ratings) *int { return r.Tingling }), []string{
			// 192 - 5*14.43; 192 - 6*14.43, though the day's mean is 4.5; 192 - 2*14.43
			`class="ring" d="M53.1 119.8`, `class="diamond" d="M53.1 105.4`, `class="ring" d="M340.9 163.1`,
			`class="cross" d="M340.9 33.2`,                   // 192 - 11*14.43
			`<path d="M42 134.3H352" stroke-dasharray="6 3"`, // the baseline, 4
			// Through the medians, day 1 and 4 points, a point less a day: 5 on day 0, 0 on day 5.
			`<path d="M53.1 119.8L163.8 192"`,
		}},
		// The scale goes to 4 minutes, and 4.8 are 166 high. Above are those that had not settled.
		{"settling", settling(c), []string{
			`class="cross" d="M340.9 140.1`, // 1.5 minutes
			`class="ring" d="M53.1 53.7`,    // 4 minutes
			`class="ring" d="M340.9 37.1`,   // 4.48
			`<path d="M42 122.8H352" stroke-dasharray="6 3"`,
		}},
		// 11 repetitions are 166 high.
		{"level", level(c), []string{
			`class="diamond" d="M53.1 41.1`, `class="ring" d="M340.9 116.5`,
			`<path d="M42 41.1H352" stroke-dasharray="6 3"`,
		}},
	} {
		got := string(x.chart.svg("a", "b"))
		for _, want := range x.want {
			if !strings.Contains(got, want) {
				t.Errorf("%s has no %s in\n%s", x.name, want, got)
			}
		}
	}
}

// Where no day is known, the sessions stand in their order: two of them, 155 wide each.
// Where one is not known, it is left out and the page says so.
func TestSessionsWithoutADate(t *testing.T) {
	c := known(t)
	c.Sessions[0].ID, c.Sessions[1].ID, c.Stops[0].Session = "a", "b", "b"
	c.Sessions[0].Date = sessions.Date{}
	c.Counts.NoDate = 1
	drawn := string(level(c).svg("a", "b"))
	if strings.Contains(drawn, `class="diamond" d="M53.1`) || !strings.Contains(drawn, `class="ring" d="M340.9`) {
		t.Errorf("one of two days is known: %s", drawn)
	}
	if text := textOf(t, written(t, []review.Course{*c}, false)); !strings.Contains(text, "Sessions without a date, which are not drawn: 1.") {
		t.Errorf("the page does not say that one is left out:\n%s", text)
	}
	c.From = sessions.Date{}
	for chart, want := range map[*chart]string{level(c): `class="ring" d="M274.5`, settling(c): `class="cross" d="M274.5`} {
		if drawn := string(chart.svg("a", "b")); !strings.Contains(drawn, want) {
			t.Errorf("no day is known, and no %s in %s", want, drawn)
		}
	}
}

// written is the page of some courses.
func written(t *testing.T, courses []review.Course, attention bool) string {
	t.Helper()
	var b bytes.Buffer
	if err := Write(&b, courses, courses[0].To, attention); err != nil {
		t.Fatal(err)
	}
	return b.String()
}

// textOf is what a page says, without its style.
func textOf(t *testing.T, page string) string {
	t.Helper()
	_, body, ok := strings.Cut(page, "</style>")
	if !ok {
		t.Fatal("no style")
	}
	return strings.Join(strings.Fields(regexp.MustCompile(`<[^>]*>`).ReplaceAllString(body, " ")), " ")
}

// Whoever cannot see the charts reads the same figures.
func TestTextHasTheFigures(t *testing.T) {
	text := textOf(t, written(t, []review.Course{*known(t)}, false))
	for _, want := range []string{
		"3 of 4, 75 % 25 to 95 %", "9 of 10, 90 % 60 to 100 %", "In all 12 of 14, 86 %", "baseline 4", "-7.00 points a week",
		"1 stop at repetition 7, settled in 90 s", "20 December, tingling, ", "2026-12-07", "4 min", "5 in the latest session.", "10 of 10", "5 of 10",
	} {
		if !strings.Contains(text, want) {
			t.Errorf("no %q in\n%s", want, text)
		}
	}
}

// What others wrote is text on the page, and nothing else.
func TestHostileText(t *testing.T) {
	const hostile = `<script>alert("1")</script></style><img src=x onerror=y>&amp;"'` + "\u202e\x1b"
	c := known(t)
	c.Patient, c.Title, c.Why = hostile, hostile, hostile
	c.Unread = []string{hostile}
	c.StandsOut = []review.Pointer{{Text: hostile, Rule: hostile}}
	c.Stops[0].Symptom = hostile
	c.Sessions[0].Outcome = hostile
	c.Matches = []review.MatchUse{{Match: hostile}}
	c.Sources = []review.SourceCount{{Source: hostile}}
	page := written(t, []review.Course{*c, *c}, false)
	d := xml.NewDecoder(strings.NewReader(page))
	d.Strict, d.AutoClose, d.Entity = false, append(xml.HTMLAutoClose, "meta", "link"), xml.HTMLEntity
	names := map[string]bool{}
	for {
		token, err := d.Token()
		if errors.Is(err, io.EOF) {
			break
		}
		if err != nil {
			t.Fatal(err)
		}
		if e, ok := token.(xml.StartElement); ok {
			names[e.Name.Local] = true
			for _, a := range e.Attr {
				if strings.HasPrefix(a.Name.Local, "on") || a.Name.Local == "src" {
					t.Errorf("an element %s has %s=%s", e.Name.Local, a.Name.Local, a.Value)
				}
			}
		}
	}
	if names["script"] || names["img"] || !names["svg"] || strings.Count(page, "</style>") != 1 {
		t.Errorf("elements: %v", names)
	}
	if strings.ContainsAny(page, "\u202e\x1b") {
		t.Error("hidden characters are left")
	}
	if n := strings.Count(page, "&lt;script&gt;"); n < 15 {
		t.Errorf("the text is shown %d times only", n)
	}
}

// With many patients the table names all. Those that need no attention have a section
// unless only the others are wanted.
func TestManyPatients(t *testing.T) {
	a, b := *known(t), *known(t)
	a.StandsOut = []review.Pointer{{Text: "a stop for pain", Rule: "any stop for pain"}}
	b.Patient = "K-205"
	b.StandsOut = []review.Pointer{{Kind: review.GoalReached, Text: "the whole prescription"}}
	for _, attention := range []bool{false, true} {
		page := written(t, []review.Course{a, b}, attention)
		if !strings.Contains(page, `<a href="#p1">K-204</a>`) || !strings.Contains(page, `<h2 id="p1">K-204</h2>`) || !strings.Contains(page, "1 of 2 patients needs attention, most of all K-204: a stop for pain.") {
			t.Errorf("attention %t: no section of the first", attention)
		}
		if strings.Contains(page, `<h2 id="p2">K-205</h2>`) == attention || strings.Contains(page, `<a href="#p2">`) == attention || !strings.Contains(page, "K-205") {
			t.Errorf("attention %t: the second is wrong", attention)
		}
	}
}

// clinic reviews invented patients.
func clinic(t *testing.T, patients int) []review.Course {
	t.Helper()
	until := day(t, "2026-11-28")
	path := filepath.Join(t.TempDir(), "diary.db")
	diarytest.Write(t, path, diarytest.Clinic{Seed: 7, Patients: patients, Until: until}.All())
	d, err := diary.OpenExisting(path)
	if err != nil {
		t.Fatal(err)
	}
	defer d.Close()
	courses, err := review.Courses(review.Read(d, diary.Filter{}), review.Options{Today: until})
	if err != nil || len(courses) != patients {
		t.Fatalf("%d courses, want %d: %v", len(courses), patients, err)
	}
	for i := range courses {
		courses[i].AddTrends()
	}
	return courses
}

// However little is known of a course, its page can be written, and no chart has a
// coordinate that is no number.
func TestLittleKnown(t *testing.T) {
	today := day(t, "2026-12-07")
	courses := append(clinic(t, 8), review.Course{Title: "A", To: today}, review.Course{Title: "A", From: today, To: today,
		Weeks: []review.Week{{Year: 2026, Week: 50, From: today}}, Sessions: []*review.Session{{}}, Level: &review.Level{}})
	page := written(t, courses, false)
	if i := slices.IndexFunc([]string{"NaN", "Inf", "%!"}, func(bad string) bool { return strings.Contains(page, bad) }); i >= 0 {
		t.Error("a number is none")
	}
}
