//go:build real

package calendar

import (
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"glidepace/sessions"
)

// expand prints each occurrence of each event: local time and UTC. It knows no time
// zone but the one in the file.
const expand = `
const ICAL = require("ical.js");
const calendar = new ICAL.Component(ICAL.parse(require("fs").readFileSync(process.argv[2], "utf8")));
ICAL.TimezoneService.reset();
calendar.getAllSubcomponents("vtimezone").forEach(z => ICAL.TimezoneService.register(new ICAL.Timezone(z)));
for (const c of calendar.getAllSubcomponents("vevent")) {
	const e = new ICAL.Event(c), all = e.iterator();
	for (let t = all.next(); t; t = all.next())
		console.log(t.toString() + " " + t.toJSDate().toISOString() + " " + e.summary);
}`

// expanded returns what ical.js from npm, in NODE_PATH, makes of a file: lines with
// local time, UTC and summary.
func expanded(t *testing.T, file string) []string {
	t.Helper()
	dir := t.TempDir()
	for name, text := range map[string]string{"expand.cjs": expand, "reminders.ics": file} {
		if err := os.WriteFile(filepath.Join(dir, name), []byte(text), 0o600); err != nil {
			t.Fatal(err)
		}
	}
	cmd := exec.Command("node", filepath.Join(dir, "expand.cjs"), filepath.Join(dir, "reminders.ics"))
	cmd.Env = append(os.Environ(), "TZ=Pacific/Apia") // a clock of its own must not matter
	var wrong strings.Builder
	cmd.Stderr = &wrong
	out, err := cmd.Output()
	if err != nil {
		t.Fatalf("node and ical.js in NODE_PATH are needed: %v\n%s", err, wrong.String())
	}
	return strings.Split(strings.TrimSpace(string(out)), "\n")
}

// The local times stay when the clocks change; the UTC times are worked out by hand.
func TestOverChangeOfClocks(t *testing.T) {
	for name, c := range map[string]struct {
		zone, first string
		days        int
		times, want []string
	}{
		"back": {"Europe/Berlin", "2026-10-24", 3, []string{"08:00", "19:30"}, []string{ // UTC+2, from the 25th, 3:00, UTC+1
			"2026-10-24T08:00:00 2026-10-24T06:00:00.000Z", "2026-10-25T08:00:00 2026-10-25T07:00:00.000Z", "2026-10-26T08:00:00 2026-10-26T07:00:00.000Z",
			"2026-10-24T19:30:00 2026-10-24T17:30:00.000Z", "2026-10-25T19:30:00 2026-10-25T18:30:00.000Z", "2026-10-26T19:30:00 2026-10-26T18:30:00.000Z"}},
		"forward": {"America/New_York", "2027-03-13", 3, []string{"07:15"}, []string{ // UTC-5, from the 14th, 2:00, UTC-4
			"2027-03-13T07:15:00 2027-03-13T12:15:00.000Z", "2027-03-14T07:15:00 2027-03-14T11:15:00.000Z", "2027-03-15T07:15:00 2027-03-15T11:15:00.000Z"}},
		"south, half an hour": {"Australia/Lord_Howe", "2027-04-03", 2, []string{"08:00"}, []string{ // UTC+11, from the 4th, 2:00, UTC+10:30
			"2027-04-03T08:00:00 2027-04-02T21:00:00.000Z", "2027-04-04T08:00:00 2027-04-03T21:30:00.000Z"}},
		"never": {"Asia/Kolkata", "2026-12-31", 2, []string{"08:00"}, []string{ // UTC+5:30
			"2026-12-31T08:00:00 2026-12-31T02:30:00.000Z", "2027-01-01T08:00:00 2027-01-01T02:30:00.000Z"}},
		"UTC": {"UTC", "2028-02-28", 3, []string{"20:00"}, []string{
			"2028-02-28T20:00:00 2028-02-28T20:00:00.000Z", "2028-02-29T20:00:00 2028-02-29T20:00:00.000Z", "2028-03-01T20:00:00 2028-03-01T20:00:00.000Z"}},
	} {
		got := expanded(t, written(t, Reminders{First: date(t, c.first), Days: c.days, Times: times(t, c.times...), Zone: zone(t, c.zone), Length: time.Minute}, noon))
		for i := range c.want {
			c.want[i] += " " + neutral
		}
		if !slices.Equal(got, c.want) {
			t.Errorf("%s: got\n%s\nwant\n%s", name, strings.Join(got, "\n"), strings.Join(c.want, "\n"))
		}
	}
}

// RFC 5545 §3.8.5.3: DTSTART 19970902T090000 New York: FREQ=DAILY;COUNT=10 → 2–11 Sep;
// UNTIL=19971224T000000Z → 113 days, 09:00 local held across 26 Oct.
func TestExamplesOfTheRFC(t *testing.T) {
	first := date(t, "1997-09-02")
	file := func(days int) string {
		return written(t, Reminders{First: first, Days: days, Times: times(t, "09:00"), Zone: zone(t, "America/New_York"), Length: time.Minute}, noon)
	}
	want := func(days int) (list []string) {
		for day := range days {
			utc := "T13:00:00.000Z " // Eastern Daylight Time
			if d := first.AddDays(day); d.DaysSince(sessions.DateOf(time.Date(1997, 10, 26, 0, 0, 0, 0, time.UTC))) >= 0 {
				utc = "T14:00:00.000Z "
			}
			d := first.AddDays(day).String()
			list = append(list, d+"T09:00:00 "+d+utc+neutral)
		}
		return list
	}
	if got := expanded(t, file(10)); !slices.Equal(got, want(10)) || !strings.HasPrefix(got[9], "1997-09-11T09:00") {
		t.Errorf("got\n%s", strings.Join(got, "\n"))
	}
	until := strings.Replace(file(113), "COUNT=113", "UNTIL=19971224T000000Z", 1)
	for name, f := range map[string]string{"COUNT=113": file(113), "UNTIL": until} {
		if got := expanded(t, f); !slices.Equal(got, want(113)) || !strings.HasPrefix(got[112], "1997-12-23T09:00") {
			t.Errorf("%s: got\n%s", name, strings.Join(got, "\n"))
		}
	}
}

// A hostile title is read back as it was, and makes no event of its own.
func TestTitleIsReadBack(t *testing.T) {
	r := berlin(t)
	r.Days, r.Title = 1, `a\n;b,c: "d" \\ `+strings.Repeat("手の運動 ", 20)+"\r\nEND:VEVENT"
	got := expanded(t, written(t, r, noon))
	want := `a\n;b,c: "d" \\ ` + strings.Repeat("手の運動 ", 20) + "  END:VEVENT"
	if len(got) != 2 || !strings.HasSuffix(got[0], "Z "+want) {
		t.Errorf("got %q, want %q", got, want)
	}
}
