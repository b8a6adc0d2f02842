package picture

import (
	"encoding/xml"
	"errors"
	"fmt"
	"image/png"
	"io"
	"regexp"
	"strings"
	"testing"

	"glidepace/pacer"
	"glidepace/sessions/sessionstest"
)

// worked is the first example of the paper: an inhale of 3.8 s, an exhale of 5.7 s.
const worked = `
glidepace: 1
title: Worked example
breath: {rate: 6, ratio: "1:1.5", pause: 0.5s}
exercises: [{glide: median-wrist, side: right, reps: 10}]
posture: none
set_up: 15s
`

// perRep is the second: 5 s each way, repetitions of 2.25 + 0.5 + 2.25 s on each.
const perRep = `
glidepace: 1
title: Worked example
breath: {match: breath-per-rep, rate: 6, pause: 0.5s}
exercises: [{glide: median-wrist, side: both, reps: 4, rest: 30s}]
posture: none
set_up: 15s
`

func timeline(t testing.TB, file string) *pacer.Timeline {
	t.Helper()
	tl, err := pacer.New(sessionstest.Parse(t, file))
	if err != nil {
		t.Fatal(err)
	}
	return tl
}

// drawn returns what a picture is written as, such as p.SVG.
func drawn(t *testing.T, write func() ([]byte, error)) string {
	t.Helper()
	file, err := write()
	if err != nil {
		t.Fatal(err)
	}
	return string(file)
}

// lines returns where the lines of a width begin, turn and end, of curves without the
// handles. Upward is more.
func lines(svg, width string) (list []string) {
	for _, m := range regexp.MustCompile(`<path d="([^"]*)" style="[^"]*stroke-width:`+regexp.QuoteMeta(width)+`"`).FindAllStringSubmatch(svg, -1) {
		list = append(list, regexp.MustCompile(`C[^,]*,[^,]*,[^,]*,[^,]*,`).ReplaceAllString(m[1], "C"))
	}
	return list
}

// The picture for a patient has 414 points for the 13.8 s from the first inhale to the
// end of the first repetition, 30 a second, and begins at 62: the inhale ends at
// 62 + 3.8·30 = 176, the exhale at 176 + 5.7·30 = 347, the pause at 362, the way back
// at 476. A line of text takes 15 points: the breath goes from 166 - 4.4·15 = 100 up to
// 145, the movement from 34 to 73.
func TestRepetition(t *testing.T) {
	svg := drawn(t, Repetition(timeline(t, worked), 1).Inline)
	for width, want := range map[string]string{
		"1.4": "M62,100C176,145C347,100L362,100C476,145",
		"0.9": "M62,34L176,34C347,73L362,73C476,34",
	} {
		if got := strings.Join(lines(svg, width), " "); got != want {
			t.Errorf("the line of width %s goes %s, want %s", width, got, want)
		}
	}
	// Two repetitions on a breath: 15 s on 414 points, 27.6 a second. The inhale ends at
	// 62 + 5·27.6 = 200, the exhale with repetition 1 at 338, the next inhale at 476; the
	// movement is out after 2.25 s, at 262.1 and 400.1, and pauses for 13.8 points.
	svg = drawn(t, Repetition(timeline(t, perRep), 1).Inline)
	for width, want := range map[string]string{
		"1.4": "M62,100C200,145C338,100C476,145",
		"0.9": "M62,34L200,34C262.1,73L275.9,73C338,34C400.1,73L413.9,73C476,34",
	} {
		if got := strings.Join(lines(svg, width), " "); got != want {
			t.Errorf("breath-per-rep: the line of width %s goes %s, want %s", width, got, want)
		}
	}
	for _, words := range []string{"breathe in", "breathe out", "at the start", "move out", "pause", "move back", "2.3 s", "0.5 s"} {
		if !strings.Contains(svg, ">"+words+"<") {
			t.Errorf("%q is not in the picture", words)
		}
	}
	if want := `aria-label="Breath and movement together: at the start and breathe in, 5 s; move out and breathe out, 2.3 s; pause and breathe out, 0.5 s;`; !strings.Contains(svg, want) {
		t.Errorf("no %s", want)
	}
}

// 118.8 s are two rows of a minute: 7.9667 points a second from 50. The set-up is a
// frame up to 15 s, at 169.5 less 1; the row ends with the fourth repetition, since the
// exhale of the fifth goes from 58.8 s to 64.5 s: at 50 + 58.8·7.9667 = 518.4.
func TestSessionRows(t *testing.T) {
	tl := timeline(t, worked)
	rows := rowsOf(tl)
	if len(rows) != 2 || rows[0].from != 0 || fmt.Sprintf("%.4f %.4f", rows[0].to, rows[1].to) != "58.8000 118.8000" || rows[1].from != rows[0].to {
		t.Fatalf("rows: %v", rows)
	}
	if got := fmt.Sprintf("%.1f", rows[0].x(rows[0].to)); got != "518.4" {
		t.Errorf("the first row ends at %s, want 518.4", got)
	}
	svg := drawn(t, Session(tl, "").SVG)
	for _, words := range []string{"Worked example", "1:59 in all, 11 breaths, 10 repetitions, 6 breaths a minute", "inhale", "exhale", "rest", "glide", "pause", "return",
		"5.7 s", "set-up", "breathe as you like", "1. median-wrist, right, 10 repetitions", "4", "10", "0:15", "1:55"} {
		if !strings.Contains(svg, ">"+words+"<") {
			t.Errorf("%q is not in the picture", words)
		}
	}
	if got := lines(svg, "1.4")[1]; !strings.HasPrefix(got, "M169.5,") || !strings.HasSuffix(got, ",137C518.44,161") {
		t.Errorf("the breath of the first row goes %s", got)
	}
}

// Every moment of a session is in one row, and no paced breath is cut.
func TestRowsOfLongSession(t *testing.T) {
	for _, file := range []string{perRep,
		strings.Replace(worked, "exercises:", "lead_in: {breaths: 60}\nexercises:", 1),
		strings.Replace(worked, "reps: 10", "reps: 12, sets: 9, rest: 150s", 1),
		strings.Replace(worked, "reps: 10", "reps: 2, sets: 2, rest: 10m", 1),
		strings.Replace(worked, "reps: 10", "reps: 5, sets: 3, rest: 0s", 1),
	} {
		tl := timeline(t, file)
		rows := rowsOf(tl)
		end := 0.0
		for _, r := range rows {
			if r.from != end || r.to <= r.from {
				t.Errorf("a row from %g to %g, after %g", r.from, r.to, end)
			}
			for _, b := range breaths(tl) {
				if b.step.Breath != pacer.Free && b.start < r.to-instant && r.to+instant < b.end {
					t.Errorf("the row ends at %g, in a breath from %g to %g", r.to, b.start, b.end)
				}
			}
			end = r.to
		}
		if end != tl.Duration || len(rows) > mostRows {
			t.Errorf("%d rows end at %g of %g", len(rows), end, tl.Duration)
		}
	}
}

// A taper is seen: with the same scale in all rows, each breath is wider than the last.
func TestTaperLengthens(t *testing.T) {
	tl := timeline(t, strings.Replace(worked, "breath: {rate: 6,", "breath: {rate: 6, taper: {from: 9, breaths: 9},", 1))
	rows := rowsOf(tl)
	if rows[0].scale != rows[len(rows)-1].scale {
		t.Error("the rows differ in scale")
	}
	if svg := drawn(t, Session(tl, "").SVG); !strings.Contains(svg, ", from 9 to 6 breaths a minute<") {
		t.Error("the taper is not named")
	}
	before := 0.0
	for _, b := range breaths(tl) {
		if b.step.Breath == pacer.Exhale && b.step.BreathNumber < 9 {
			if b.end-b.start <= before {
				t.Errorf("exhale %d is no longer than the one before", b.step.BreathNumber)
			}
			before = b.end - b.start
		}
	}
	if before == 0 {
		t.Error("no exhale was found")
	}
}

// What a file's author wrote stays text: it cannot become markup, and nothing is
// loaded from elsewhere.
func TestHostileTitle(t *testing.T) {
	const title = `</title><script src="//x">a('1')</script> & ]]> "font-family:Liberation Sans;`
	tl := timeline(t, strings.Replace(worked, "Worked example", "'"+strings.ReplaceAll(title, "'", "''")+"'", 1))
	tl.Title += "\x1b\u202e\x00"
	for name, draw := range map[string]func() ([]byte, error){"SVG": Session(tl, title).SVG, "Inline": Repetition(tl, 1).Inline} {
		svg := drawn(t, draw)
		d := xml.NewDecoder(strings.NewReader(svg))
		var texts []string
		for {
			token, err := d.Token()
			if errors.Is(err, io.EOF) {
				break
			}
			if err != nil {
				t.Fatalf("%s: %v", name, err)
			}
			switch token := token.(type) {
			case xml.StartElement:
				if !strings.Contains(" svg title g path text ", " "+token.Name.Local+" ") {
					t.Errorf("%s: there is a %s", name, token.Name.Local)
				}
				for _, a := range token.Attr {
					if strings.Contains(" id class href src ", " "+a.Name.Local+" ") || strings.Contains(a.Value, "url(") {
						t.Errorf("%s: there is a %s=%q", name, a.Name.Local, a.Value)
					}
				}
			case xml.CharData:
				texts = append(texts, string(token))
			}
		}
		if name == "SVG" && !strings.Contains(strings.Join(texts, "\n"), title+"\uFFFD\uFFFD\uFFFD: breath") {
			t.Errorf("the title is not there as it was: %q", texts[:4])
		}
		if strings.Contains(svg, `style="font-family:Liberation Sans;`) || !strings.Contains(svg, "sans-serif") {
			t.Errorf("%s: there is no generic font", name)
		}
	}
}

// A PNG is 540 points wide at 200 dots an inch, and has no colour.
func TestPNG(t *testing.T) {
	p := Session(timeline(t, worked), "")
	img, err := png.Decode(strings.NewReader(drawn(t, p.PNG)))
	if err != nil {
		t.Fatal(err)
	}
	if size, high := img.Bounds().Size(), int(p.height.Points()/72*200+.5); size.X != 1500 || size.Y != high {
		t.Errorf("the size is %v, want 1500 by %d", size, high)
	}
	black := 0
	for y := range img.Bounds().Dy() {
		for x := range img.Bounds().Dx() {
			r, g, b, a := img.At(x, y).RGBA()
			if r != g || g != b || a != 0xffff {
				t.Fatalf("there is a colour at %d, %d", x, y)
			}
			if r == 0 {
				black++
			}
		}
	}
	if black < 5000 {
		t.Errorf("%d pixels are black", black)
	}
}
