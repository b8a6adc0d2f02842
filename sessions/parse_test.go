package sessions_test

import (
	"bytes"
	"errors"
	"flag"
	"fmt"
	"os"
	"path/filepath"
	"reflect"
	"strings"
	"testing"
	"time"
	"unicode"
	"unicode/utf8"

	"glidepace/sessions"
	"glidepace/sessions/fields/fieldstest"
	"glidepace/sessions/glides"
	"glidepace/sessions/glides/figure"
)

const badFiles = "../testdata/sessions/bad"

var update = flag.Bool("update", false, "keep what is said of the bad session files")

// sessionFiles returns the session files in folders of testdata/sessions; each
// folder must have some.
func sessionFiles(t testing.TB, folders ...string) []string {
	t.Helper()
	var all []string
	for _, folder := range folders {
		names, err := filepath.Glob(filepath.Join("../testdata/sessions", folder, "*.yaml"))
		if err != nil || len(names) == 0 {
			t.Fatalf("no session files in %q: %v", folder, err)
		}
		all = append(all, names...)
	}
	return all
}

func readFile(t testing.TB, name string) []byte {
	t.Helper()
	src, err := os.ReadFile(name)
	if err != nil {
		t.Fatal(err)
	}
	return src
}

// parse parses a file of testdata/sessions that has no problem.
func parse(t testing.TB, name string) *sessions.Session {
	t.Helper()
	return parseText(t, string(readFile(t, filepath.Join("../testdata/sessions", name))))
}

// parseText parses the text of a session file that has no problem.
func parseText(t testing.TB, text string) *sessions.Session {
	t.Helper()
	s, err := sessions.Parse("x", strings.NewReader(text))
	if err != nil {
		t.Fatalf("%v\n%s", err, text)
	}
	return s
}

func TestBadFiles(t *testing.T) {
	fieldstest.Check(t, badFiles, *update, func(t *testing.T, name string, src []byte) string {
		s, err := sessions.Parse(name, bytes.NewReader(src))
		if err == nil {
			t.Fatal("no problem found")
		}
		checkError(t, err)
		if s != nil {
			return err.Error() + "\n(what timing depends on could be read)\n"
		}
		return err.Error() + "\n"
	})
}

// Every good file can be read, and tuned, the one in JSON too.
func TestGoodFiles(t *testing.T) {
	for _, name := range sessionFiles(t, ".", "good") {
		t.Run(filepath.Base(name), func(t *testing.T) {
			src := readFile(t, name)
			s, err := sessions.Parse(name, bytes.NewReader(src))
			if err != nil {
				t.Fatal(err)
			}
			checkLimits(t, s)
			got, err := sessions.Splice(name, src, slow)
			if err != nil {
				t.Fatal(err)
			}
			checkSpliced(t, string(src), got, slow)
		})
	}
}

// checkLimits fails where a value is outside what a session file allows. The
// figures stand here again on purpose.
func checkLimits(t *testing.T, s *sessions.Session) {
	t.Helper()
	check := func(ok bool, what string) {
		t.Helper()
		if !ok {
			t.Errorf("%s is outside its limits in %+v", what, *s)
		}
	}
	text := func(s string, least, most int, what string) {
		t.Helper()
		n := utf8.RuneCountInString(s)
		check(n >= least && n <= most && utf8.ValidString(s), what)
		check(strings.IndexFunc(s, unicode.IsControl) < 0 && !strings.ContainsAny(s, "\u202a\u202b\u202c\u202d\u202e\u2066\u2067\u2068\u2069\u2028\u2029\ufeff"), what)
	}
	span := func(d, least, most time.Duration, what string) {
		t.Helper()
		check(d >= least && d <= most, what)
	}
	text(s.Title, 1, 80, "title")
	text(s.Patient, 0, 16, "patient")
	if d := s.Dose; d != nil {
		check(1 <= d.PerDayMin && d.PerDayMin <= d.PerDayMax && d.PerDayMax <= 5, "per_day")
		check(0 <= d.Days && d.Days <= 182, "days")
		check(d.Start.IsZero() || d.Start.String() >= "2000-01-01" && d.Start.String() <= "2099-12-31", "start")
	}
	b := s.Breath
	if b.Rate != 0 {
		check(b.Rate >= 3 && b.Rate <= 30, "rate")
		for _, part := range []float64{b.Ratio.Inhale, b.Ratio.Exhale} {
			check(part >= 0.1 && part <= 10, "ratio")
		}
		check(b.Inhale == 0 && b.Exhale == 0, "inhale and exhale beside rate")
	} else {
		span(b.Inhale, 500*time.Millisecond, 15*time.Second, "inhale")
		span(b.Exhale, 500*time.Millisecond, 15*time.Second, "exhale")
		check(b.Ratio == sessions.Ratio{} && b.Taper == nil, "ratio or taper beside inhale and exhale")
	}
	check(b.Pause >= 0 && b.Pause < time.Second, "pause")
	if tp := b.Taper; tp != nil {
		check(tp.From >= 3 && tp.From <= 30 && tp.Breaths >= 1 && tp.Breaths <= 200, "taper")
	}
	check(s.LeadIn >= 0 && s.LeadIn <= 60, "lead_in")
	check(len(s.Exercises) >= 1 && len(s.Exercises) <= 12, "exercises")
	check(s.Sounds.Parts != sessions.Parts{} && s.Sounds.Language != "" && s.Sounds.Volume >= 0 && s.Sounds.Volume <= 100, "sounds")
	for _, e := range s.Exercises {
		check(e.Side == sessions.Right || e.Side == sessions.Left || e.Side == sessions.Both, "side")
		check(e.Sets >= 1 && e.Sets <= 10 && e.Reps >= 1 && e.Reps <= 30, "sets and reps")
		span(e.Rest, 0, 10*time.Minute, "rest")
		if e.SetUp != -1 {
			span(e.SetUp, 0, 5*time.Minute, "set_up")
		}
		text(e.Note, 0, 500, "note")
		if !e.Own {
			_, known := glides.Find(e.Glide.Name)
			check(known, "glide")
			continue
		}
		text(e.Glide.Name, 1, 40, "own name")
		for _, words := range []string{e.Glide.Start, e.Glide.Out, e.Glide.Back} {
			text(words, 1, 300, "own text")
		}
	}
}

// checkError fails unless err is a well-formed report.
func checkError(t *testing.T, err error) {
	t.Helper()
	var e *sessions.Error
	if !errors.As(err, &e) || len(e.Problems) == 0 {
		t.Fatalf("%#v is no *sessions.Error with problems", err)
	}
	last := sessions.Place{Line: 1, Column: 1}
	for _, p := range e.Problems {
		if p.Line < last.Line || p.Line == last.Line && p.Column < last.Column {
			t.Errorf("%v after %v: not sorted, or not counted from 1", p.Place, last)
		}
		last = p.Place
		if p.Text == "" || strings.IndexFunc(p.Text, func(r rune) bool { return !unicode.IsPrint(r) }) >= 0 {
			t.Errorf("not one line that prints: %q", p.Text)
		}
		if len(p.Text) > 700 {
			t.Errorf("a text of %d bytes: %.80q…", len(p.Text), p.Text)
		}
	}
}

func TestValues(t *testing.T) {
	wrist, _ := glides.Find("median-wrist")
	elbow, _ := glides.Find("median-elbow")
	start, err := sessions.ParseDate("2026-12-01")
	if err != nil {
		t.Fatal(err)
	}
	for name, want := range map[string]*sessions.Session{
		"first-week.yaml": {
			Title: "First week, right hand", Patient: "K-204",
			Dose: &sessions.Dose{PerDayMin: 2, PerDayMax: 2, Days: 42, Start: start, Gap: time.Hour},
			Breath: sessions.Breath{
				Rate: 8, Ratio: sessions.Ratio{Inhale: 1, Exhale: 1.5}, Pause: 500 * time.Millisecond,
				Taper: &sessions.Taper{From: 12, Breaths: 9},
			},
			LeadIn: 9,
			Ease:   sessions.DefaultEase,
			Sounds: sessions.DefaultSounds,
			Exercises: []sessions.Exercise{{
				Glide: wrist, Side: sessions.Right, Sets: 1, Reps: 10, Rest: 30 * time.Second, SetUp: 15 * time.Second,
			}},
		},
		"sixth-week.yaml": {
			Title: "Sixth week, both hands", Patient: "DEMO-6",
			Dose: &sessions.Dose{PerDayMin: 1, PerDayMax: 3, Days: 14, Gap: time.Hour},
			Breath: sessions.Breath{
				Match: sessions.BreathPerRep, Inhale: 5 * time.Second, Exhale: 6 * time.Second, Pause: 400 * time.Millisecond,
			},
			LeadIn: 6,
			Ease:   sessions.DefaultEase,
			Sounds: sessions.DefaultSounds,
			Exercises: []sessions.Exercise{{
				Glide: elbow, Side: sessions.Both, Sets: 2, Reps: 8, Rest: 45 * time.Second, SetUp: 20 * time.Second,
				BothEnds: elbow.BothEnds,
				Note:     "Only as far as it stays easy. The left arm may do fewer.",
			}, {
				Glide: glides.Glide{
					Name: "Table slide", Title: "Table slide",
					Start: "The forearm rests on the table, palm down, fingers relaxed.",
					Out:   "The hand slides forward on the table as the elbow straightens.",
					Back:  "The hand slides back towards you.",
					Cues:  glides.Cues{Start: "start position", End: "end position", Out: "move out", Back: "move back"},
				},
				Own: true, Side: sessions.Left, Sets: 1, Reps: 10, SetUp: 10 * time.Second, BothEnds: true,
			}},
		},
	} {
		t.Run(name, func(t *testing.T) {
			got := *parse(t, name)
			for i := range reflect.TypeFor[sessions.Session]().NumField() {
				field := reflect.TypeFor[sessions.Session]().Field(i)
				if !field.IsExported() {
					continue
				}
				g, w := reflect.ValueOf(got).Field(i).Interface(), reflect.ValueOf(*want).Field(i).Interface()
				if !reflect.DeepEqual(g, w) {
					t.Errorf("%s: got %+v, want %+v", field.Name, g, w)
				}
			}
		})
	}
}

func TestFigureOfAnOwnGlide(t *testing.T) {
	const file = `
glidepace: 1
title: x
breath: {rate: 8}
exercises:
  - side: left
    reps: 5
    own:
      name: Elbow slide
      start: the elbow is bent
      out: the elbow straightens
      back: the elbow bends
      figure:
        view: side
        close_up: above
        sitting: true
        start: {elbow: 90, forearm: -12.5}
        end: {elbow: 10}
        back: {head: -5}
`
	s, err := sessions.Parse("x", strings.NewReader(file))
	if err != nil {
		t.Fatal(err)
	}
	want := &figure.Figure{
		View: figure.Side, CloseUp: figure.Above, Sitting: true,
		Start: figure.Pose{Elbow: 90, Forearm: -12.5}, End: figure.Pose{Elbow: 10, Forearm: -12.5},
		Back: &figure.Pose{Elbow: 90, Forearm: -12.5, Head: -5},
	}
	if got := s.Exercises[0].Glide.Figure; !reflect.DeepEqual(got, want) {
		t.Errorf("got %+v, want %+v", got, want)
	}
	drawn, _, _ := strings.Cut(file, "      figure:")
	if without, err := sessions.Parse("x", strings.NewReader(drawn)); err != nil || without.Exercises[0].Glide.Figure != nil || without.Hash() != s.Hash() {
		t.Errorf("without a figure: %v; a picture is no prescription", err)
	}
}

func TestPauseAtOverridesTheLibrary(t *testing.T) {
	const file = "glidepace: 1\ntitle: Demo\nbreath: {rate: 6}\nexercises:\n- {glide: %s, side: left, reps: 5, pause_at: %s}\n"
	for _, name := range glides.Names() {
		for at, want := range map[string]bool{"end": false, "both": true} {
			if got := parseText(t, fmt.Sprintf(file, name, at)).Exercises[0].BothEnds; got != want {
				t.Errorf("%s, pause_at: %s: BothEnds is %t", name, at, got)
			}
		}
	}
}

// With an exercise that cannot be read the others would have another's place:
// nothing is to be timed then.
func TestExerciseThatCannotBeRead(t *testing.T) {
	const exercise = "{glide: median-wrist, side: right, reps: 3}"
	for _, list := range []string{"[!x " + exercise + ", " + exercise + "]", "[&a " + exercise + ", *a, " + exercise + "]"} {
		s, err := sessions.Parse("x", strings.NewReader("glidepace: 1\ntitle: T\nbreath: {rate: 6}\nexercises: "+list+"\n"))
		if s != nil {
			t.Errorf("%s: a session was read", list)
		}
		checkError(t, err)
	}
}

func TestHostileFiles(t *testing.T) {
	const start = "glidepace: 1\n"
	for name, src := range map[string]string{
		"nested lists":      start + "x: " + strings.Repeat("[", 60000),
		"nested, closed":    start + "x: " + strings.Repeat("[", 9000) + strings.Repeat("]", 9000),
		"nested mappings":   start + strings.Repeat("{a: ", 15000),
		"nested dashes":     start + strings.Repeat("- ", 30000),
		"unknown keys":      start + manyKeys(9000),
		"wrong exercises":   start + "exercises: [" + strings.Repeat("{},", 20000) + "]",
		"repeated keys":     start + strings.Repeat("title: x\n", 7000),
		"anchors":           start + "x: [" + strings.Repeat("&a 1,", 12000) + "]",
		"aliases":           start + "x: [&a 1," + strings.Repeat("*a,", 20000) + "]",
		"controls":          start + strings.Repeat("\x01\n", 30000),
		"broken many times": start + strings.Repeat("a\n", 32000),
		"broken at the end": start + strings.Repeat("#\n", 32000) + "]",
		"a long quote":      start + "x: \"" + strings.Repeat("a\n", 32000),
		"long word":         start + "title: " + strings.Repeat("x", 65000),
	} {
		t.Run(name, func(t *testing.T) {
			s, err := sessions.Parse("x", strings.NewReader(src))
			if s != nil {
				t.Error("a session was read")
			}
			checkError(t, err)
			if n := len(err.Error()); n > 40<<10 {
				t.Errorf("the report is %d bytes long", n)
			}
		})
	}
}

func manyKeys(n int) string {
	var b strings.Builder
	for i := range n {
		fmt.Fprintf(&b, "k%d: 1\n", i)
	}
	return b.String()
}

func TestPlace(t *testing.T) {
	s := parse(t, "sixth-week.yaml")
	for path, want := range map[string]sessions.Place{
		"dose.days":            {Line: 6, Column: 28},
		"dose.start":           {Line: 6, Column: 1}, // not in the file
		"breath.taper.from":    {Line: 7, Column: 1},
		"lead_in.breaths":      {Line: 12, Column: 20},
		"exercises[0]":         {Line: 15, Column: 5},
		"exercises[0].reps":    {Line: 18, Column: 11},
		"exercises[0].set_up":  {Line: 15, Column: 5},
		"exercises[1].own.out": {Line: 24, Column: 12},
		"exercises[9].reps":    {Line: 14, Column: 1},
		"nothing.like.it":      {Line: 1, Column: 1},
	} {
		if got := s.Place(path); got != want {
			t.Errorf("%q: got %v, want %v", path, got, want)
		}
	}
	if got := new(sessions.Session).Place("title"); got != (sessions.Place{Line: 1, Column: 1}) {
		t.Errorf("a session that no file was read for: %v", got)
	}
}

func FuzzParse(f *testing.F) {
	for _, name := range sessionFiles(f, ".", "good") {
		f.Add(readFile(f, name))
	}
	for _, src := range fieldstest.Bad(f, badFiles) {
		f.Add(src)
	}
	f.Fuzz(func(t *testing.T, src []byte) {
		s, err := sessions.Parse("x", bytes.NewReader(src))
		if err != nil {
			checkError(t, err)
		} else {
			checkLimits(t, s)
		}
		if s != nil && s.Hash() == "" {
			t.Error("no hash")
		}
	})
}
