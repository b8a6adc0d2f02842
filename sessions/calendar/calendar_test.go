package calendar

import (
	"bytes"
	"errors"
	"regexp"
	"slices"
	"strings"
	"testing"
	"time"
	_ "time/tzdata"
	"unicode/utf8"

	"glidepace/sessions"
)

var noon = time.Date(2026, 10, 1, 12, 0, 0, 0, time.UTC)

func zone(t *testing.T, name string) *time.Location {
	t.Helper()
	z, err := time.LoadLocation(name)
	if err != nil {
		t.Fatal(err)
	}
	return z
}

func date(t *testing.T, s string) sessions.Date {
	t.Helper()
	d, err := sessions.ParseDate(s)
	if err != nil {
		t.Fatal(err)
	}
	return d
}

func times(t *testing.T, list ...string) (parsed []Time) {
	t.Helper()
	for _, s := range list {
		at, err := ParseTime(s)
		if err != nil {
			t.Fatal(err)
		}
		parsed = append(parsed, at)
	}
	return parsed
}

// berlin is a course over the night in which the clocks go back.
func berlin(t *testing.T) Reminders {
	return Reminders{Course: "First week\x00K-204", First: date(t, "2026-10-24"), Days: 3, Times: times(t, "08:00", "19:30"),
		Zone: zone(t, "Europe/Berlin"), Length: 3*time.Minute + 6*time.Second}
}

func written(t *testing.T, r Reminders, now time.Time) string {
	t.Helper()
	var b bytes.Buffer
	if err := Write(&b, r, now); err != nil {
		t.Fatal(err)
	}
	return b.String()
}

// In 2026 summer time in Berlin is from 29 March, 2:00, to 25 October, 3:00. Both
// moments are 01:00 UTC, as Directive 2000/84/EC has it.
const berlinFile = `BEGIN:VCALENDAR
VERSION:2.0
PRODID:-//glidepace//reminders//EN
BEGIN:VTIMEZONE
TZID:Europe/Berlin
BEGIN:DAYLIGHT
DTSTART:20260329T020000
TZOFFSETFROM:+0100
TZOFFSETTO:+0200
TZNAME:CEST
END:DAYLIGHT
BEGIN:STANDARD
DTSTART:20261025T030000
TZOFFSETFROM:+0200
TZOFFSETTO:+0100
TZNAME:CET
END:STANDARD
END:VTIMEZONE
BEGIN:VEVENT
UID:COURSE-1
DTSTAMP:20261001T120000Z
LAST-MODIFIED:20261001T120000Z
SEQUENCE:29847600
DTSTART;TZID=Europe/Berlin:20261024T080000
DURATION:PT4M
RRULE:FREQ=DAILY;COUNT=3
SUMMARY:Time for your exercises
DESCRIPTION:Do them as your clinician taught you. If symptoms come or grow\, stop.
CLASS:PRIVATE
TRANSP:TRANSPARENT
BEGIN:VALARM
ACTION:DISPLAY
TRIGGER:PT0S
DESCRIPTION:Time for your exercises
END:VALARM
END:VEVENT
`

func TestFile(t *testing.T) {
	got := written(t, berlin(t), noon)
	if strings.Count(got, "\r\n") != strings.Count(got, "\n") {
		t.Error("not every line ends in CRLF")
	}
	got = strings.NewReplacer("\r\n ", "", "\r\n", "\n").Replace(regexp.MustCompile(`UID:[0-9a-f]{64}-`).ReplaceAllString(got, "UID:COURSE-"))
	want := strings.Replace(berlinFile, "END:VEVENT\n", "END:VEVENT\n"+strings.NewReplacer("COURSE-1", "COURSE-2", "24T080000", "24T193000").
		Replace(berlinFile[strings.Index(berlinFile, "BEGIN:VEVENT"):]), 1) + "END:VCALENDAR\n"
	if got != want {
		t.Errorf("got\n%s\nwant\n%s", got, want)
	}
}

// A file that is made during the first day begins with the next of the times, and every
// time comes as often as the course has days.
func TestBeginsWithTheNextTime(t *testing.T) {
	for clock, want := range map[string][4]string{ // first days of 8:00 and 19:30, first and last day of all
		"06:00": {"20261024", "20261024", "2026-10-24", "2026-10-26"},
		"12:00": {"20261025", "20261024", "2026-10-24", "2026-10-27"},
		"22:25": {"20261025", "20261025", "2026-10-25", "2026-10-27"},
	} {
		r := berlin(t)
		r.Begin = r.at(r.First, times(t, clock)[0])
		got := written(t, r, noon)
		for _, line := range []string{"DTSTART;TZID=Europe/Berlin:" + want[0] + "T080000", "DTSTART;TZID=Europe/Berlin:" + want[1] + "T193000"} {
			if !strings.Contains(got, line+"\r\n") {
				t.Errorf("made at %s: no %s in\n%s", clock, line, got)
			}
		}
		if n := strings.Count(got, "COUNT=3\r\n"); n != 2 {
			t.Errorf("made at %s: %d times of three days", clock, n)
		}
		if first, last := r.Span(); first.String() != want[2] || last.String() != want[3] {
			t.Errorf("made at %s: from %s to %s", clock, first, last)
		}
	}
}

// A later file of a course updates the events of an earlier one.
func TestSecondImport(t *testing.T) {
	property := func(file, name string) []string {
		return regexp.MustCompile(`(?m)^`+name+`[:;].*\r$`).FindAllString(file, -1)
	}
	before := written(t, berlin(t), noon)
	changed := berlin(t)
	changed.Times, changed.Title, changed.Days = times(t, "09:15", "20:00"), "Second week", 20
	after := written(t, changed, noon.Add(time.Minute))
	if a, b := property(before, "UID"), property(after, "UID"); len(a) != 2 || !slices.Equal(a, b) || a[0] == a[1] {
		t.Errorf("UIDs %q, then %q", a, b)
	}
	if a, b := property(before, "SEQUENCE")[0], property(after, "SEQUENCE")[0]; a >= b {
		t.Errorf("%q, then %q", a, b)
	}
	other := berlin(t)
	other.Course = "First week\x00K-205"
	if a, b := property(before, "UID"), property(written(t, other, noon), "UID"); slices.Equal(a, b) {
		t.Error("another patient's course has the same UIDs")
	}
	if strings.Contains(before, "K-204") || strings.Contains(before, "First week") {
		t.Error("the file names the patient code or the title")
	}
}

// What a title holds stays text, in lines of at most 75 octets (RFC 5545 §3.1, §3.3.11).
func TestHostileTitle(t *testing.T) {
	r := berlin(t)
	r.Title = "Arm; hand, \\ \"both\": \r\nEND:VEVENT\r\nX-EVIL:1\u2028" + strings.Repeat("手の運動", 12) + strings.Repeat("x", 90) + "\x00\xff"
	got := written(t, r, noon)
	for line := range strings.Lines(got) {
		if line = strings.TrimSuffix(line, "\r\n"); len(line) > 75 || !utf8.ValidString(line) || strings.ContainsAny(line, "\r\n") {
			t.Errorf("%d octets: %q", len(line), line)
		}
		if strings.HasPrefix(line, "X-EVIL") {
			t.Error("the title has made a line of its own")
		}
	}
	want := `SUMMARY:Arm\; hand\, \\ "both":   END:VEVENT  X-EVIL:1 ` + strings.Repeat("手の運動", 12) + strings.Repeat("x", 90) + "\uFFFD\uFFFD"
	if whole := strings.ReplaceAll(got, "\r\n ", ""); strings.Count(whole, want+"\r\n") != 2 || strings.Count(whole, "\r\nBEGIN:VEVENT\r\n") != 2 {
		t.Errorf("no %q in\n%s", want, whole)
	}
}

func TestTimes(t *testing.T) {
	for n, want := range map[int][]string{1: {"08:00"}, 2: {"08:00", "20:00"}, 3: {"08:00", "14:00", "20:00"},
		4: {"08:00", "12:00", "16:00", "20:00"}, 5: {"08:00", "11:00", "14:00", "17:00", "20:00"}} {
		if got := Spread(n); !slices.Equal(got, times(t, want...)) {
			t.Errorf("%d a day: %v, want %v", n, got, want)
		}
	}
	for _, bad := range []string{"", "8", "25:00", "12:60", "8 pm", "-1:00", "08:00:00"} {
		if at, err := ParseTime(bad); err == nil {
			t.Errorf("%q is taken for %s", bad, at)
		}
	}
	got, err := Arrange(times(t, "19:30", "8:00"), time.Hour)
	if err != nil || !slices.Equal(got, times(t, "08:00", "19:30")) {
		t.Errorf("%v, %v", got, err)
	}
	for _, c := range []struct {
		times []string
		gap   time.Duration
		want  string
	}{
		{[]string{"08:00", "08:30"}, time.Hour, "08:00 and 08:30 are too close: the file asks for 1 h from one session to the next"},
		{[]string{"23:30", "00:15"}, time.Hour, "23:30 and 00:15 are too close: the file asks for 1 h from one session to the next"},
		{[]string{"08:00", "14:00", "20:00"}, 390 * time.Minute, "08:00 and 14:00 are too close: the file asks for 6 h 30 min from one session to the next"},
		{[]string{"08:00", "08:00"}, 0, "08:00 is there twice"},
	} {
		if _, err := Arrange(times(t, c.times...), c.gap); !errors.As(err, new(*CloseError)) || err.Error() != c.want {
			t.Errorf("%v: %v, want %s", c.times, err, c.want)
		}
	}
	if _, err := Arrange(times(t, "08:00"), 12*time.Hour); err != nil {
		t.Error(err)
	}
}
