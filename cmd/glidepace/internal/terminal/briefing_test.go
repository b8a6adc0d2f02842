package terminal

import (
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"glidepace/cmd/glidepace/internal/live"
	"glidepace/devices/patient"
	"glidepace/pacer"
	"glidepace/sessions"
	"glidepace/sessions/cautions"
	"glidepace/sessions/history"
	"glidepace/sessions/progress"
	"glidepace/sessions/sessionstest"
)

func date(text string) sessions.Date {
	d, err := sessions.ParseDate(text)
	if err != nil {
		panic(err)
	}
	return d
}

// dailyBriefing is the briefing for today's session of a sample file.
func dailyBriefing(t *testing.T, file string, entries ...progress.Entry) patient.Briefing {
	t.Helper()
	tl, err := live.Load(file)
	if err != nil {
		t.Fatal(err)
	}
	for i := range entries {
		entries[i].Prescription = tl.Session().Hash()
	}
	p := history.Past{Entries: entries, Day: date("2026-12-08")}
	b, err := patient.NewBriefing(tl, p, patient.Wish{})
	if err != nil {
		t.Fatal(err)
	}
	b.Keys = Keys
	return b
}

// With the questions of a day's first session, on the morning (1 line), for the
// ratings (2) and to begin (1), the start of every sample takes ten lines at
// the most in a window of 80 columns; the neck's lines come on top.
func TestDailyStart(t *testing.T) {
	var files []string
	for _, folder := range []string{"", "good"} {
		found, _ := filepath.Glob(filepath.Join("..", "..", "..", "..", "testdata", "sessions", folder, "*.yaml"))
		files = append(files, found...)
	}
	files = slices.DeleteFunc(files, func(name string) bool { return strings.Contains(name, "limits-") }) // of single values
	if len(files) < 4 {
		t.Fatalf("only %d samples", len(files))
	}
	stopped := progress.Entry{
		ID: "a", Date: date("2026-12-07"), Outcome: sessions.Symptoms, EndedBy: sessions.Pain, Repetitions: 3,
		Stops: []progress.Stop{{Symptom: sessions.Pain, InSet: true}},
	}
	for _, file := range files {
		for name, entries := range map[string][]progress.Entry{"first": nil, "eased": {stopped}} {
			b := dailyBriefing(t, file, entries...)
			list := daily(b, 80, 10-1-2-1)
			_, always := b.Daily()
			above := len(Lines(80, always))
			if n := len(list) - above; n > 6 {
				t.Errorf("%s, %s: %d lines, want 6 at most:\n%s", file, name, n, strings.Join(list, "\n"))
			}
			for _, l := range list {
				if len([]rune(l)) > 80 {
					t.Errorf("%s: a line of more than 80 columns: %q", file, l)
				}
			}
			if text := strings.Join(list, "\n"); !strings.HasPrefix(text, b.Title) || !strings.Contains(text, " in all.") ||
				!strings.Contains(text, "repetitions today") || !strings.Contains(text, cautions.InBrief) || !strings.Contains(text, Keys.Brief) {
				t.Errorf("%s, %s: something is missing:\n%s", file, name, text)
			}
		}
	}
}

// Where there is no room, the outlook is left out first, then the glides' titles.
func TestDailyStartGivesWay(t *testing.T) {
	b := dailyBriefing(t, filepath.Join("..", "..", "..", "..", "testdata", "sessions", "sixth-week.yaml"))
	b.Standing, b.Why = "Session 2 today; 1 to 3 a day, as tolerated", "5 of 8 repetitions today, to begin with: three comfortable sessions in a row and it is 6, not before 2026-12-10."
	const (
		head    = "Sixth week, both hands. Session 2 today; 1 to 3 a day, as tolerated.\n"
		glides  = " Elbow glide for the median nerve, right, then left: 2 sets of 8.\nTable slide, left: 10 repetitions.\n"
		numbers = " 42 repetitions in 2 exercises.\n"
		now     = "5 of 8 repetitions today, to begin with"
		outlook = ": three comfortable sessions in a row and\nit is 6, not before 2026-12-10.\n"
	)
	all := pacer.Clock(b.Duration) + " in all."
	for most, want := range map[int]string{
		20: head + all + glides + now + outlook,
		7:  head + all + glides + now + outlook,
		6:  head + all + glides + now + ".\n",
		5:  head + all + numbers + now + ".\n",
		1:  head + all + numbers + now + ".\n", // no less is told
	} {
		want += cautions.InBrief + "\n" + Keys.Brief
		if got := strings.Join(daily(b, 80, most), "\n"); got != want {
			t.Errorf("in %d lines:\n%s\nwant\n%s", most, got, want)
		}
	}
}

// A list or a paragraph is not divided over two pages, unless it is longer than a page.
// No line is lost.
func TestPages(t *testing.T) {
	for _, c := range []struct{ blocks, want string }{
		{"a b|c d", "a b c d"},
		{"a b|c d e", "a b|c d e"},
		{"a b|c|d e f g|h", "a b c|d e f g|h"},
		{"a|b c d e f", "a b c d|e f"},
		{"a b c d e f g h i", "a b c d|e f g h|i"},
	} {
		var list [][]string
		for b := range strings.SplitSeq(c.blocks, "|") {
			list = append(list, strings.Fields(b))
		}
		var got []string
		for _, page := range pages(list, 4) {
			got = append(got, strings.Join(page, " "))
		}
		if got := strings.Join(got, "|"); got != c.want {
			t.Errorf("%s: %s, want %s", c.blocks, got, c.want)
		}
	}
}

// The cautions of a neck glide, and the key for its warning signs, come before every
// session; so does the caution that a clinician wrote for an own glide.
func TestBeware(t *testing.T) {
	tl, err := pacer.New(sessionstest.Parse(t, `{glidepace: 1, title: T, breath: {rate: 8}, exercises: [
		{glide: median-neck, side: left, reps: 2}, {glide: median-elbow, side: left, reps: 2},
		{own: {name: Wall walk, start: s, out: o, back: b, caution: Not above the shoulder.}, side: left, reps: 2}]}`))
	if err != nil {
		t.Fatal(err)
	}
	b := patient.Briefing{Timeline: tl, Keys: Keys}
	const elbow, own = "Elbow glide for the median nerve: This is a tensioner", "Wall walk: Not above the shoulder."
	for name, c := range map[string]struct {
		list []string
		want map[string]int // how often each is told
	}{
		"daily":      {daily(b, 400, 5), map[string]int{"No neck glide if": 1, Keys.Neck: 1, elbow: 0, own: 1}},
		"first":      {Lines(999, b.First()), map[string]int{"No neck glide if": 1, Keys.Neck: 1, elbow: 1, own: 1}},
		"everything": {Lines(999, b.Everything()), map[string]int{"No neck glide if": 1, Keys.Neck: 1, "This is a tensioner": 1, "Not above the shoulder.": 1}},
	} {
		text := strings.Join(c.list, "\n")
		for line, times := range c.want {
			if n := strings.Count(text, line); n != times {
				t.Errorf("%s: %q %d times, want %d:\n%s", name, line, n, times, text)
			}
		}
		for _, line := range append(slices.Clone(cautions.BeforeSession), cautions.Volume, cautions.Deference) {
			if whole := name != "daily"; strings.Contains(text, line) != whole {
				t.Errorf("%s: %q told: %v", name, line, !whole)
			}
		}
	}

	without, err := pacer.NewAt(tl.Session(), pacer.Level{Reps: 2, Rate: 1, NoNeck: true})
	if err != nil {
		t.Fatal(err)
	}
	b = patient.Briefing{Timeline: without, Keys: Keys}
	for _, list := range [][]string{daily(b, 400, 5), Lines(400, b.First()), Lines(400, b.Everything())} {
		if i := slices.IndexFunc(list, func(l string) bool { return strings.Contains(strings.ToLower(l), "neck glide") }); i >= 0 {
			t.Errorf("of the neck glide that is left out: %q", list[i])
		}
	}
}
