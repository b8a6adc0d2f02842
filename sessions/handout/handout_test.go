package handout

import (
	"bytes"
	"fmt"
	"html"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"

	"glidepace/pacer"
	"glidepace/sessions/cautions"
	"glidepace/sessions/sessionstest"
)

// pageOf returns the handout of a session file's text.
func pageOf(t *testing.T, file string, o Options) string {
	t.Helper()
	timeline, err := pacer.New(sessionstest.Parse(t, file))
	if err != nil {
		t.Fatal(err)
	}
	var b bytes.Buffer
	if err := Write(&b, timeline, o); err != nil {
		t.Fatal(err)
	}
	return b.String()
}

// example returns the text of an example session file.
func example(t *testing.T, name string) string {
	t.Helper()
	text, err := os.ReadFile(filepath.Join("..", "..", "testdata", "sessions", name))
	if err != nil {
		t.Fatal(err)
	}
	return string(text)
}

var tag = regexp.MustCompile(`<[^>]*>`)

// words returns what a page says, in one line.
func words(page string) string {
	_, body, _ := strings.Cut(page, "<body>")
	return strings.Join(strings.Fields(html.UnescapeString(tag.ReplaceAllString(body, " "))), " ")
}

// The figures are worked by hand from the session files.
func TestContents(t *testing.T) {
	for name, want := range map[string][]string{
		// A cycle of 60/8 = 7.5 s less the pause of 0.5 s, 1 to 1.5: 2.8 s and 4.2 s.
		// 42 days from 1 December, the first counted, end on 11 January.
		// Posture 35 s, lead-in 54 s, set-up 15 s, set 2.8 + 10 × 7.5 = 77.8 s: 3 minutes.
		"first-week.yaml": {
			"First week, right hand", "patient code K-204", "Call: 555 0100",
			"2 sessions a day, for 6 weeks, from Tuesday 1 December 2026 to Monday 11 January 2027.",
			"From the start of one session to the start of the next, leave at least 1 hour.", "One session takes about 3 minutes.",
			"Arms in your lap: 9 breaths", "Right side: take the start position, then do 10 repetitions. Then let the arm hang and loosen it for 30 seconds.",
			"play week1.mp3 .",
			"Relief may come early. Lasting change takes weeks of daily practice.", "“limited evidence”", "doi 10.1016/j.jmpt.2016.10.004",
			"Wrist glide for the median nerve, right side", "Posture. Sitting or standing. Weight even",
			"Start. Let the arm float out to the side", "Out. Slowly bend the wrist back", "Pause. Shorter than a second (0.5 s), where the movement out ends.", "Back. Slowly let the hand relax.",
			"About 8 breaths a minute: in for about 3 seconds, out for about 4 seconds.", "It begins at 12 a minute, and reaches this rate after 9 breaths.",
			"Pain: stop for today. Tell your clinician. Strong tingling or numbness: Stop at once.", "go on gentler: a smaller movement, a little slower (about 20 %), 2 repetitions fewer in each set.",
			"If it comes again, or if it is not back within 2 minutes: that is enough for today.",
			"A session has 10 repetitions: if you did fewer, write how many.", "If either rose and is still there 2 minutes later, write yes. If in three sessions in a row you had to stop, or a rating rose by 2 or more, speak to your clinician before the next.", "Done If fewer: how many Before, 0–10 After, 0–10 Still there after 2 minutes? Note Tingling",
			"Tue 2026-12-01", "Mon 2027-01-11", "Week 6 · K-204",
		},
		"both-hands.yaml": {
			"2 sessions a day, for 4 weeks.", "Right side, then left side: take the start position, then do 8 repetitions on each side. Then let the arm hang",
			"Elbow-wrist slider for the median nerve, right side, then left side", "Go only half the way.", "Start, right side", "Out, right side",
			"A session has 8 repetitions on the right side and 8 on the left: if you did fewer, write how many.", "Done If fewer Before, 0–10 After, 0–10 Still there after 2 minutes? Note Right Left Tingling", "Write the date beside each day.", "Day 1 ", "Day 28",
		},
		// Inhale 5 s and exhale 6 s are 60/11 = 5.45 breaths a minute, under the floor of
		// 6: nothing gets slower. Two sets of 8 on each side, and 10 on the left: 16 and 26.
		"sixth-week.yaml": {
			"1 to 3 sessions a day, as many as feel comfortable, for 2 weeks.", "Right side, then left side, Elbow glide for the median nerve: take the start position, then do 2 sets of 8 repetitions on each side. After each set, let the arm hang and loosen it for 45 seconds.",
			"Left side, Table slide: take the start position, then do 10 repetitions.", "From your clinician: Only as far as it stays easy. The left arm may do fewer.",
			"Take care: This is a tensioner", "Pause. Shorter than a second (0.4 s), at both ends of the movement.",
			"About 5.45 breaths a minute: in for about 5 seconds, out for about 6 seconds.", "Move out and back while you breathe out",
			"go on gentler: a smaller movement, 2 repetitions fewer in each set.", "A session has 16 repetitions on the right side and 26 on the left, all sets together: if you did fewer,",
		},
		"working-up.yaml": {
			"then do 5 repetitions at first; later up to 10, see “Working up”. Then let",
			"Begin with 5 repetitions in a set, and work up to 10. After", "After 3 comfortable sessions in a row, do 1 repetition more, and not sooner than 2 days after the last change.",
			"do 2 repetitions fewer next time, and go slower.", "After more than 7 days without a session, do 1 repetition fewer, but not under 5.",
			"Write how many repetitions you did in the session.", "Done How many Before",
		},
		"one-minute.yaml": {"As often as your clinician has told you.", "Day 14"},
	} {
		text := words(pageOf(t, example(t, name), Options{Contact: "555 0100", SoundFile: "week1.mp3"}))
		for _, w := range want {
			if !strings.Contains(text, w) {
				t.Errorf("%s: no %q in\n%s", name, w, text)
			}
		}
		for _, never := range []string{"Name", "name:"} {
			if strings.Contains(text, never) {
				t.Errorf("%s: asks for a name", name)
			}
		}
	}
}

// Where the largest set of 10 begins with 4, one of 5 begins with 5 × 4/10 = 2.
func TestSmallerSetsWorkUpInProportion(t *testing.T) {
	text := words(pageOf(t, "glidepace: 1\ntitle: T\nbreath: {rate: 8}\nprogress: {reps_from: 4}\nexercises: [{glide: median-wrist, side: left, reps: 10}, {glide: median-elbow, side: both, reps: 5, sets: 2}]\n", Options{}))
	for _, want := range []string{"then do 4 repetitions at first; later up to 10,", "then do 2 sets of 2 repetitions on each side at first; later up to 5,", "work up to 10. Smaller sets grow in proportion."} {
		if !strings.Contains(text, want) {
			t.Errorf("no %q in\n%s", want, text)
		}
	}
}

func TestEasingByTries(t *testing.T) {
	file := "glidepace: 1\ntitle: T\nbreath: {rate: 8}\nexercises: [{glide: median-wrist, side: left, reps: 5}]\nease: {tries: %d, fewer_reps: 0, settle_within: 90s}\n"
	for tries, want := range map[int]string{
		0: "Let the arm hang and loosen it. That is enough for today. If it is not back to where it was within 90 seconds, tell your clinician.",
		2: "a little slower (about 20 %). If you have to stop 3 times, or if it is not back",
	} {
		if text := words(pageOf(t, fmt.Sprintf(file, tries), Options{})); !strings.Contains(text, want) {
			t.Errorf("%d tries: no %q in\n%s", tries, want, text)
		}
	}
}

const neckFile = "glidepace: 1\ntitle: Neck\nbreath: {rate: 7}\nexercises: [{glide: median-neck, side: left, reps: 8}]\n"

// Every caution for the patient is in the handout, whole: with a neck glide its own too.
func TestAllCautions(t *testing.T) {
	// In safety.md: before a session 5, and one each of the other hand and of sound;
	// emergency 4 lines, the same day 5, promptly 4, ask first 1. With a neck glide its
	// caution, and whom to ask first. Without a box and a sound file, none of sound.
	first := example(t, "first-week.yaml")
	for _, c := range []struct {
		file          string
		options       Options
		count         int
		paced, button bool
	}{
		{first, Options{}, 20, false, false},
		{first, Options{SoundFile: "week1.mp3"}, 21, true, false},
		{neckFile, Options{Box: &Box{}}, 23, true, true},
	} {
		page := pageOf(t, c.file, c.options)
		_, list, _ := strings.Cut(page, "<h2>Take care</h2>")
		list, _, _ = strings.Cut(list, "</section>")
		if n := strings.Count(list, "<li>"); n != c.count {
			t.Errorf("%d cautions, want %d", n, c.count)
		}
		text := words(page)
		for _, l := range cautions.OnPaper(c.file == neckFile, c.paced, c.button) {
			for _, item := range append([]string{l.Title, cautions.Deference}, l.Items...) {
				if !strings.Contains(text, item) {
					t.Errorf("no %q", item)
				}
			}
		}
		if c.file == neckFile && !strings.Contains(text, "Sit tall,") {
			t.Error("a neck glide is not done standing")
		}
		for word, said := range map[string]bool{"holds the button": c.button, "leave the pacing": c.paced, "the sound low": c.paced} {
			if strings.Contains(text, word) != said {
				t.Errorf("%+v: %q is said: %v", c.options, word, !said)
			}
		}
	}
}

// A movement is drawn on the side that does it, the right one for both. The neck glide
// moves on beyond its start position, so it is drawn at three moments.
func TestPictures(t *testing.T) {
	for _, c := range []struct {
		file, side string
		moments    int
	}{{example(t, "first-week.yaml"), "right", 2}, {example(t, "sixth-week.yaml"), "right", 2}, {neckFile, "left", 3}} {
		page := pageOf(t, c.file, Options{})
		drawn := strings.Count(page, "<figure><svg")
		if sides := len(regexp.MustCompile("<title>(Start|Out|Back)[^<]* the "+c.side+" [a-z ]*arm ").FindAllString(page, -1)); drawn != c.moments || sides != c.moments {
			t.Errorf("%d pictures of movements, %d of the %s side; want %d", drawn, sides, c.side, c.moments)
		}
	}
}

func TestTickBoxes(t *testing.T) {
	const course = "glidepace: 1\ntitle: T\nbreath: {rate: 8}\nexercises: [{glide: median-wrist, side: left, reps: 5}]\ndose: {per_day: %s}\n"
	for dose, want := range map[string]int{
		"2, weeks: 6":          84,
		"1-3, days: 10":        30,
		"5, weeks: 26":         910,
		"1":                    14, // a fortnight, where the course has no end
		"1, days: 1":           1,
		"2, start: 2026-12-01": 28,
	} {
		page := pageOf(t, fmt.Sprintf(course, dose), Options{})
		if n := strings.Count(page, `<span class="box">`); n != want {
			t.Errorf("%s: %d boxes, want %d", dose, n, want)
		}
	}
}

// Nobody's text becomes markup, a style or a script, wherever it stands.
func TestHostileText(t *testing.T) {
	const bad = `</title></style><script>alert(1)</script>"'><img src=x onerror=alert(2)>`
	quoted := "'" + strings.ReplaceAll(bad, "'", "''") + "'"
	file := "glidepace: 1\ntitle: " + quoted + "\npatient: K-1\nbreath: {rate: 8}\nexercises:\n  - own: {name: '<b>x</b>', start: " + quoted + ", out: " + quoted + ", back: " + quoted + ", caution: " + quoted + "}\n    side: left\n    reps: 5\n    note: " + quoted + "\n"
	page := pageOf(t, file, Options{Contact: bad, SoundFile: bad,
		Box: &Box{Name: bad, Strap: bad, Notes: []string{bad}, Tables: []BoxTable{{bad, bad, bad, [][2]string{{bad, bad}}}}}})
	if n := strings.Count(words(page), bad); n < 15 {
		t.Errorf("the text stands %d times on the page, want all of it", n)
	}
	for _, markup := range []string{"<script", "<img", "<b>", "</title></style>"} {
		if strings.Contains(page, markup) {
			t.Errorf("%q is markup", markup)
		}
	}
	if strings.Count(page, "</style>") != 1 || strings.Count(page, "</title>") != 1+strings.Count(page, "<svg") {
		t.Error("a title or a style ends early")
	}
}

func TestPaper(t *testing.T) {
	if page := pageOf(t, neckFile, Options{}); strings.Contains(page, "size:") && regexp.MustCompile(`@page[^}]*\bsize:`).MatchString(page) {
		t.Error("the page wants one paper")
	}
	if page := pageOf(t, neckFile, Options{Paper: "Letter"}); !strings.Contains(page, "@page { size: Letter }") {
		t.Error("the paper is not on the page")
	}
}

func TestLengths(t *testing.T) {
	for s, want := range map[float64]string{1: "1 second", 45: "45 seconds", 60: "1 minute", 90: "90 seconds", 120: "2 minutes", 150: "2 minutes 30 seconds", 181: "3 minutes 1 second"} {
		if got := seconds(s); got != want {
			t.Errorf("%v s: %q, want %q", s, got, want)
		}
	}
	for minutes, want := range map[float64]string{0.5: "1 minute", 30: "30 minutes", 60: "1 hour", 90: "1 hour 30 minutes", 720: "12 hours"} {
		if got := hours(minutes); got != want {
			t.Errorf("%v min: %q, want %q", minutes, got, want)
		}
	}
}
