package diary

import (
	"errors"
	"reflect"
	"strings"
	"testing"
	"time"
	_ "time/tzdata"

	"glidepace/sessions"
)

func TestIDs(t *testing.T) {
	d := fresh(t)
	for _, id := range []string{"abcd000001", "abcd100002", "k01ab00000"} {
		s := sample(time.Now())
		s.ID = id
		begun(t, d, s).Leave()
	}
	for given, want := range map[string]string{
		"abcd000001": "abcd000001", "abcd0": "abcd000001", "ABCD0": "abcd000001", "abcdl": "abcd100002",
		"kOi": "", "kOia": "k01ab00000", "abcd": "", "abc": "", "": "", "zzzz": "", "%%%%": "", "____": "",
	} {
		s, err := d.Show(given)
		if want != "" && (err != nil || s.ID != want) {
			t.Errorf("Show(%q) = %q, %v, want %s", given, s.ID, err, want)
		}
		var bad *IDError
		if want == "" && (!errors.As(err, &bad) || bad.Given != given) {
			t.Errorf("Show(%q) = %v, want an IDError", given, err)
		}
	}
	_, err := d.Show("abcd")
	var bad *IDError
	if !errors.As(err, &bad) || !reflect.DeepEqual(bad.Matches, []string{"abcd000001", "abcd100002"}) {
		t.Errorf("ambiguous id: %v", err)
	}
	seen := map[string]bool{}
	for range 10000 {
		id := newID()
		if len(id) != idLength || strings.Trim(id, idLetters) != "" || id[0] < 'a' || seen[id] {
			t.Fatalf("id %q", id)
		}
		seen[id] = true
	}
}

// zoned is a time on the clock of a place.
func zoned(t testing.TB, zone, clock string) time.Time {
	t.Helper()
	loc := must(time.LoadLocation(zone))
	at := must(time.ParseInLocation("2006-01-02 15:04:05", clock, loc))

	return at
}

func TestDayIsTheLocalDateOfTheStart(t *testing.T) {
	const berlin, york, tokyo = "Europe/Berlin", "America/New_York", "Asia/Tokyo"
	folded := zoned(t, berlin, "2026-10-25 02:30:00")
	for _, c := range []struct {
		name    string
		started time.Time
		date    string
		text    string
	}{
		{"a second before midnight", zoned(t, berlin, "2026-12-01 23:59:59"), "2026-12-01", "2026-12-01T23:59:59+01:00"},
		{"midnight", zoned(t, berlin, "2026-12-02 00:00:00"), "2026-12-02", "2026-12-02T00:00:00+01:00"},
		{"late evening in the west, tomorrow in UTC", zoned(t, york, "2026-12-01 23:30:00"), "2026-12-01", "2026-12-01T23:30:00-05:00"},
		{"early morning in the east, yesterday in UTC", zoned(t, tokyo, "2026-12-02 06:00:00"), "2026-12-02", "2026-12-02T06:00:00+09:00"},
		{"before the clocks go forward", zoned(t, berlin, "2026-03-29 01:59:00"), "2026-03-29", "2026-03-29T01:59:00+01:00"},
		{"after the clocks went forward", zoned(t, berlin, "2026-03-29 03:01:00"), "2026-03-29", "2026-03-29T03:01:00+02:00"},
		{"an hour that comes twice", folded, "2026-10-25", folded.Format(time.RFC3339)},
		{"the end of a 25-hour day", zoned(t, berlin, "2026-10-25 23:59:00"), "2026-10-25", "2026-10-25T23:59:00+01:00"},
		// Source of the times: RFC 3339 §5.8.
		{"half a second in UTC", time.UnixMilli(482196050520).UTC(), "1985-04-12", "1985-04-12T23:20:50.52Z"},
		{"Pacific standard time", time.Unix(851042397, 0).In(time.FixedZone("", -8*3600)), "1996-12-19", "1996-12-19T16:39:57-08:00"},
		{"an offset of 45 minutes", zoned(t, "Asia/Kathmandu", "2026-12-02 00:10:00"), "2026-12-02", "2026-12-02T00:10:00+05:45"},
	} {
		d := fresh(t)
		r := begun(t, d, sample(c.started))
		// Ten minutes on it may be another day, or another offset.
		do(t, r.Event(rep(1)), r.End(Ending{When: c.started.Add(10 * time.Minute), At: 10 * time.Minute, Outcome: sessions.Completed, Done: rep(1).Done}))
		s := only(t, d)
		if s.Date != c.date || rfc3339(s.Started) != c.text || s.Ended.Sub(s.Started) != 10*time.Minute {
			t.Errorf("%s: date %s, started %v, ended %v", c.name, s.Date, s.Started, s.Ended)
		}
		day := must(time.Parse(time.DateOnly, c.date))
		for offset, want := range map[int]int{-1: 0, 0: 1, 1: 0} {
			date := day.AddDate(0, 0, offset).Format(time.DateOnly)
			if n, err := d.CountOn(date, Key{Patient: "K-204"}); n != want || err != nil {
				t.Errorf("%s: %d sessions on %s (%v), want %d", c.name, n, date, err, want)
			}
		}
	}
}

func TestWhatCountsTowardsTheDose(t *testing.T) {
	d := fresh(t)
	noon := zoned(t, "Europe/Berlin", "2026-12-01 12:00:00")
	add := func(patient, title string, extra bool, reps int, outcome sessions.Outcome) {
		t.Helper()
		s := sample(noon)
		s.Patient, s.Title, s.Extra = patient, title, extra
		r := begun(t, d, s)
		for n := 1; n <= reps; n++ {
			do(t, r.Event(rep(n)))
		}
		if outcome != "" {
			do(t, r.End(Ending{When: noon, Outcome: outcome, Done: Amount{Repetitions: reps}}))
		} else {
			t.Cleanup(r.Leave)
		}
	}
	add("K-204", "Week 1", false, 10, sessions.Completed)
	add("K-204", "Week 2", false, 1, sessions.EndedEarly) // a new file of the same patient
	add("K-204", "Week 1", true, 4, sessions.Symptoms)
	add("K-204", "Week 1", false, 2, "") // runs
	add("K-204", "Week 1", false, 0, sessions.EndedEarly)
	add("K-204", "Week 1", false, 0, "")
	add("", "Week 1", false, 3, sessions.Completed)
	add("", "Week 2", false, 3, sessions.Completed)
	unknown := sample(time.Time{})
	r := begun(t, d, unknown)
	do(t, r.Event(rep(1)), r.End(Ending{At: time.Minute, Outcome: sessions.Completed, Done: rep(1).Done}))

	for k, want := range map[Key]int{
		{"K-204", "Week 1"}: 4, {"K-204", ""}: 4, {"", "Week 1"}: 1, {"", "Week 2"}: 1, {"", "Week 3"}: 0, {"B-1", "Week 1"}: 0,
	} {
		if n, err := d.CountOn("2026-12-01", k); n != want || err != nil {
			t.Errorf("%+v: %d sessions (%v), want %d", k, n, err, want)
		}
	}
	s := must(d.Show(unknown.ID))
	if s.Date != "" || !s.Started.IsZero() || !s.Ended.IsZero() || s.Outcome != sessions.Completed {
		t.Errorf("session of unknown date: %+v", s)
	}
	if n, err := d.CountOn("", Key{Patient: "K-204"}); n != 0 || err != nil {
		t.Errorf("%d sessions on no date (%v)", n, err)
	}
}

func TestListAndFilter(t *testing.T) {
	d := fresh(t)
	for _, c := range []struct{ id, patient, title, started string }{
		{"c000000000", "B-1", "Two", "2026-12-03 08:00:00"},
		{"a000000000", "K-204", "One", "2026-12-02 08:00:00"},
		{"d000000000", "", "Two", "2026-12-04 08:00:00"},
		{"b000000000", "K-204", "Two", "2026-12-01 08:00:00"},
	} {
		s := sample(zoned(t, "Europe/Berlin", c.started))
		s.ID, s.Patient, s.Title = c.id, c.patient, c.title
		do(t, begun(t, d, s).End(ending(1)))
	}
	for f, want := range map[Filter]string{
		{}:                                     "bacd",
		{NoPatient: true}:                      "d",
		{NoPatient: true, Title: "One"}:        "",
		{Patient: "K-204"}:                     "ba",
		{Title: "Two"}:                         "bcd",
		{From: "2026-12-02"}:                   "acd",
		{To: "2026-12-02"}:                     "ba",
		{From: "2026-12-02", To: "2026-12-02"}: "a",
		{Patient: "K-204", Title: "Two", From: "2026-12-02"}: "",
	} {
		list := must(d.List(f))
		got := ""
		for _, s := range list {
			got += s.ID[:1]
		}
		if got != want {
			t.Errorf("%+v: %q, want %q", f, got, want)
		}
	}
}
