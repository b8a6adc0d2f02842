package diary

import (
	"bytes"
	"database/sql"
	"encoding/csv"
	"encoding/json"
	"maps"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"glidepace/sessions"
)

// format1 is a diary as the glidepace of format 1 wrote it, with every kind of
// event and every answer. testdata/format1.json and .csv are what that glidepace
// exported of it.
func format1(t *testing.T) (path string) {
	t.Helper()
	text := must(os.ReadFile("testdata/format1.sql"))
	path = filepath.Join(t.TempDir(), "diary.db")
	db := must(sql.Open("sqlite", path))
	must(db.Exec(string(text)))
	do(t, db.Close())
	return path
}

// rows is an export in JSON, field by field, by id.
func rows(t *testing.T, export []byte) map[string]map[string]json.RawMessage {
	t.Helper()
	var list []map[string]json.RawMessage
	do(t, json.Unmarshal(export, &list))
	by := make(map[string]map[string]json.RawMessage)
	for _, s := range list {
		by[string(s["id"])] = s
	}
	return by
}

func TestNothingOfAnOldDiaryIsLost(t *testing.T) {
	wantJSON := must(os.ReadFile("testdata/format1.json"))
	wantCSV := must(os.ReadFile("testdata/format1.csv"))

	old := opened(t, format1(t))
	clinic := fresh(t)
	m := must(clinic.Merge(format1(t)))
	if len(m.Added) != 14 {
		t.Errorf("%d merged, want 14", len(m.Added))
	}
	for _, d := range []*Diary{old, clinic} {
		do(t, begun(t, d, sample(time.Now())).End(ending(3)))
		var out bytes.Buffer
		do(t, ExportJSON(&out, d.EachWithEvents(Filter{})))
		got, want := rows(t, out.Bytes()), rows(t, wantJSON)
		if len(got) != len(want)+1 {
			t.Errorf("%d sessions, want one more than %d", len(got), len(want))
		}
		for id, s := range want {
			delete(s, "reason") // nothing was ever in it
			for _, field := range []string{"stop_list", "ended_by", "not_in_time"} {
				delete(got[id], field)
			}
			if !maps.EqualFunc(got[id], s, func(a, b json.RawMessage) bool { return bytes.Equal(a, b) }) {
				t.Errorf("got\n%s\nwant\n%s", got[id], s)
			}
		}
		out.Reset()
		do(t, ExportCSV(&out, d.Each(Filter{})))
		lines := must(csv.NewReader(&out).ReadAll())
		wantLines := must(csv.NewReader(bytes.NewReader(wantCSV)).ReadAll())
		for _, want := range wantLines {
			if !slices.ContainsFunc(lines, func(got []string) bool { return slices.Equal(got[:len(want)], want) }) {
				t.Errorf("no line begins with %q", want)
			}
		}
	}
}

func TestWhatAnOldDiaryTells(t *testing.T) {
	d := opened(t, format1(t))
	do(t, sameUnordered(d, must(d.List(Filter{}))))
	for id, want := range map[string]string{
		"aa00": "completed, with a stop for tingling; between",
		"ab00": "stopped for pain; between in",
		"ac00": "stopped for the breath; in",
		"ad00": "stopped for tingling, not settled in time; in",
		"ae00": "stopped for tingling, not settled in time; in",
		"af00": "stopped for tingling; in",
		"ag00": "stopped for tingling; in",
		"ah00": "stopped for pain; in",
		"aj00": "ended early;",
		"ak00": "interrupted, with a stop for tingling; in",
		"d9gt": "ended early;",
	} {
		s := must(d.Show(id))
		got := s.OutcomeWords() + ";"
		for _, stop := range s.Stops {
			got += map[bool]string{true: " in", false: " between"}[stop.InSet]
		}
		if got != want || s.Diary != "" || s.Place != 0 {
			t.Errorf("%s: %q (recorded as %d by %q), want %q", id, got, s.Place, s.Diary, want)
		}
		list := must(d.List(Filter{}))
		i := slices.IndexFunc(list, func(l Session) bool { return l.ID == s.ID })
		if !slices.Equal(list[i].Stops, s.Stops) {
			t.Errorf("%s: listed with %v, shown with %v", id, list[i].Stops, s.Stops)
		}
	}
}

// Who recorded a session, and when, is kept through a merge.
func TestRecordedOrder(t *testing.T) {
	box := card(t, filepath.Join(t.TempDir(), "diary.db"))
	home := fresh(t)
	for i, started := range []string{"2026-12-03 08:00:00", "2026-12-01 08:00:00", "2026-12-02 08:00:00"} {
		for _, d := range []*Diary{box, home} {
			s := sample(zoned(t, "Europe/Berlin", started))
			r := begun(t, d, s)
			if i == 1 {
				r.Leave() // cut off
			} else {
				do(t, r.End(ending(1)))
			}
			if s.Place != int64(i+1) || s.Diary == "" {
				t.Errorf("begun as %d of %q, want %d", s.Place, s.Diary, i+1)
			}
		}
		must(home.Enter(Sheet{Repetitions: 10}, always(common()), []Tick{{Date: "2026-12-01", Number: i + 1, Repetitions: 10}}))
	}
	do(t, box.Close())
	if _, err := home.Merge(box.path); err != nil {
		t.Fatal(err)
	}
	list := must(home.List(Filter{}))
	places := make(map[string][]string) // by diary: dates, by place
	for _, s := range list {
		if s.Source == FromPaper {
			if s.Diary != "" || s.Place != 0 {
				t.Errorf("from paper, recorded as %d by %q", s.Place, s.Diary)
			}
			continue
		}
		if places[s.Diary] == nil {
			places[s.Diary] = make([]string, 3)
		}
		places[s.Diary][s.Place-1] = s.Date
	}
	if len(list) != 9 || len(places) != 2 || places[""] != nil {
		t.Errorf("%d sessions, by diary %q", len(list), places)
	}
	for _, dates := range places {
		if want := []string{"2026-12-03", "2026-12-01", "2026-12-02"}; !slices.Equal(dates, want) {
			t.Errorf("recorded on %q, want %q", dates, want)
		}
	}
}

func TestClockBehind(t *testing.T) {
	d := opened(t, format1(t)) // its last day is 2026-12-10
	behind := func(date, want string) {
		t.Helper()
		last := must(d.ClockBehind(day(t, date)))
		got := ""
		if !last.IsZero() {
			got = last.Format("2006-01-02 15:04")
		}
		if got != want {
			t.Errorf("on %s: %q, want %q", date, got, want)
		}
	}
	behind("2026-12-09", "2026-12-10 08:30")
	behind("2026-12-10", "")
	behind("2026-12-11", "")

	do(t, begun(t, d, sample(zoned(t, "Europe/Berlin", "2026-12-11 23:30:00"))).End(ending(1)))
	behind("2026-12-10", "2026-12-11 23:30")
	behind("2026-12-11", "")

	// From paper, and what another diary recorded, say nothing of this clock.
	other := card(t, filepath.Join(t.TempDir(), "diary.db"))
	do(t, begun(t, other, sample(zoned(t, "Europe/Berlin", "2027-03-01 08:00:00"))).End(ending(1)), other.Close())
	must(d.Merge(other.path))
	must(d.Enter(Sheet{Repetitions: 10}, always(common()), []Tick{{Date: "2027-02-01", Number: 1, Repetitions: 10}}))

	behind("2026-12-11", "")

	// Such a session has no day, and stands where it was recorded.
	s := sample(zoned(t, "Europe/Berlin", "2026-11-01 08:00:00"))
	s.Boot = &Boot{NotBefore: zoned(t, "Europe/Berlin", "2026-12-11 23:30:00"), Clock: s.Started}
	do(t, begun(t, d, s).End(ending(2)), begun(t, d, sample(zoned(t, "Europe/Berlin", "2026-12-12 08:00:00"))).End(ending(1)))
	list := must(d.List(Filter{}))
	i := slices.IndexFunc(list, func(l Session) bool { return l.ID == s.ID })
	if list[i].When() != "" || list[i-1].When() != "2026-12-11 23:30" || list[i+1].When() != "2026-12-12 08:00" {
		t.Errorf("%q stands between %q and %q", list[i].When(), list[i-1].When(), list[i+1].When())
	}
	const words = "date not known, the clock was wrong, at 2026-11-01 08:00, not before 2026-12-11 23:30\n"
	if text := list[i].String(); !strings.Contains(text, words) {
		t.Errorf("no %q in\n%s", words, text)
	}
	behind("2026-12-12", "")

	// Or the clock was ahead before, as somebody can say who knows the day.
	ahead := sample(zoned(t, "Europe/Berlin", "2027-01-12 08:00:00"))
	do(t, begun(t, d, ahead).End(ending(2)))
	behind("2026-12-13", "2027-01-12 08:00")
	do(t, d.TodayIs(day(t, "2026-12-13"), time.Time{}))
	behind("2026-12-13", "")
	behind("2026-12-11", "2026-12-12 08:00")
	do(t, begun(t, d, sample(zoned(t, "Europe/Berlin", "2026-12-13 08:00:00"))).End(ending(1)))
	list = must(d.List(Filter{To: "2027-01-31"}))
	i = slices.IndexFunc(list, func(l Session) bool { return l.ID == ahead.ID })
	if !list[i].WrongDay || list[i-1].When() != "2026-12-12 08:00" || list[i+1].When() != "2026-12-13 08:00" {
		t.Errorf("%+v stands between %q and %q", list[i], list[i-1].When(), list[i+1].When())
	}
	if n, err := d.CountOn("2027-01-12", Key{Patient: "K-204"}); n != 0 || err != nil {
		t.Errorf("%d sessions on a wrong day (%v)", n, err)
	}
	s2 := must(d.Show(ahead.ID))
	for _, words := range []string{"2027-01-12 08:00 +01:00 by a clock that was wrong\n", "wrong-day  somebody said that it was only 2026-12-13\n"} {
		if !strings.Contains(s2.String(), words) {
			t.Errorf("no %q in\n%s", words, s2)
		}
	}
}

func TestNextMorning(t *testing.T) {
	d := fresh(t)
	s := sample(zoned(t, "Europe/Berlin", "2026-12-01 08:30:00"))
	r := begun(t, d, s) // which still runs
	said := s.Started.AddDate(0, 0, 1)
	do(t, r.Event(rep(1)), d.NextMorning(s.ID, sessions.NotWorse, time.Time{}), d.NextMorning(s.ID[:5], sessions.Worse, said),
		r.Event(rep(2)), r.End(ending(2)))
	list := must(d.List(Filter{}))
	got := only(t, d)
	if got.NextMorning != sessions.Worse || list[0].NextMorning != sessions.Worse || len(got.Events) != 6 {
		t.Errorf("%q, listed %q, %d events", got.NextMorning, list[0].NextMorning, len(got.Events))
	}
	for _, line := range []string{"\nafter        worse until the next morning\n", "             2026-12-02 08:30 next-morning  worse\n"} {
		if !strings.Contains(got.String(), line) {
			t.Errorf("no line %q in\n%s", line, got)
		}
	}
	// Another program may hold the diary for a while.
	busy := opened(t, d.path)
	tx := must(busy.db.Begin())
	time.AfterFunc(50*time.Millisecond, func() { tx.Commit() })
	do(t, d.NextMorning(s.ID, sessions.Worse, said.Add(time.Second)))
	for id, how := range map[string]sessions.NextMorning{s.ID: "", "zzzz": sessions.Worse} {
		if err := d.NextMorning(id, how, said); err == nil {
			t.Errorf("%q was said of %q", how, id)
		}
	}

	// Said to one copy or to both, it is no conflict.
	other := card(t, filepath.Join(t.TempDir(), "diary.db"))
	must(other.Merge(d.path))
	do(t, other.NextMorning(s.ID, sessions.NotWorse, said.Add(time.Hour)), other.Close(), d.NextMorning(s.ID, sessions.Worse, said.Add(time.Minute)))
	must(d.Merge(other.path))
	if got := only(t, d); got.NextMorning != sessions.NotWorse || len(got.Events) != 9 {
		t.Errorf("merged: %q, %d events", got.NextMorning, len(got.Events))
	}
}
