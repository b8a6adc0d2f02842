package review

import (
	"path/filepath"
	"reflect"
	"slices"
	"testing"
	"time"

	"glidepace/pacer"
	"glidepace/sessions"
	"glidepace/sessions/diary"
	"glidepace/sessions/diary/diarytest"
	"glidepace/sessions/history"
	"glidepace/sessions/sessionstest"
)

// What a review reads of a diary: where a stop was and how long it took to settle, the
// level, the dose, and how the session was done.
func TestRead(t *testing.T) {
	file := sessionstest.Parse(t, firstWeek)
	start := time.Date(2026, 12, 1, 0, 30, 0, 0, time.FixedZone("", 3600)) // the day before in UTC
	base := diary.Session{
		Title: "First week", Patient: "K-204", Prescription: file.Hash(), Plan: history.PlanOf(file, pacer.Level{Reps: 8, Rate: 0.8}, ""), Source: diary.Paced,
		Date: "2026-12-01", Started: start, Outcome: sessions.Completed, Match: "exhale-on-glide", RateStart: 12, RateEnd: 6.4,
		Planned: diary.Amount{Sets: 1, Repetitions: 8, Breaths: 8}, Done: diary.Amount{Sets: 1, Repetitions: 7, Breaths: 7},
	}
	told := func(s diary.Session, id string, more ...diary.Event) diary.Session {
		s.ID = id
		s.Events = append([]diary.Event{{Kind: diary.Started, Detail: s.Plan}}, more...)
		return s
	}
	box, paper, wrong, older := base, base, base, base
	box.Source, box.Date, box.Started = diary.Paced, "", time.Time{}
	paper.Source, paper.Started = diary.FromPaper, time.Time{}
	older.Plan = `{"level":{"repetitions":10,"rate_factor":1},"rules":null}`
	path := filepath.Join(t.TempDir(), "diary.db")
	diarytest.Write(t, path, slices.Values([]diary.Session{
		told(base, "a000000000",
			diary.Event{Exercise: 2, Side: "left", Set: 1, Rep: 7}.With(diary.Stopping{InSet: true}),
			diary.Event{}.With(diary.Answer{Reply: "settled", Symptom: sessions.Tingling, After: 70, Rate: 6}),
			diary.Event{}.With(diary.Settling{Settled: true, After: 90})),
		told(box, "b000000000", diary.Event{Kind: diary.Undated, Detail: `{"n":1,"id":"3f2a","since_s":9}`}, diary.Event{}.With(diary.Settling{Settled: false, After: 120})),
		told(paper, "c000000000", diary.Event{}.With(diary.Settling{Settled: false}),
			diary.Event{}.With(diary.Note{Text: "hand was cold"}), diary.Event{}.With(diary.Note{Text: "done late"})),
		told(wrong, "d000000000", diary.Event{Kind: diary.WrongDay, Detail: `{"today":"2026-11-01"}`}),
		told(older, "e000000000"),
	}))
	d, err := diary.OpenExisting(path)
	if err != nil {
		t.Fatal(err)
	}
	defer d.Close()
	got := map[string]Session{}
	for s, err := range Read(d, diary.Filter{}) {
		if err != nil || s.Unread != "" {
			t.Fatal(err, s.Unread)
		}
		got[s.ID[:1]] = s
	}
	a := got["a"]
	if !a.Start.Equal(start) || a.Start.Hour() != 0 {
		t.Errorf("started %v, want %v", a.Start, start)
	}
	a.Start = time.Time{}
	if want := (Session{
		ID: "a000000000", Patient: "K-204", Title: "First week", Prescription: file.Hash(), Date: day(1), Source: Live, Outcome: sessions.Completed,
		Done: 7, Planned: 8, RateEnd: 6.4, Match: "exhale-on-glide", Settled: 90, Level: &Level{8, 10, 0.8}, Dose: dose(2, 2, 7, 1),
		Stops: []Stop{{Symptom: sessions.Tingling, InSet: true, Exercise: 2, Side: "left", Set: 1, Rep: 7, Settled: 70, Rate: 6}},
	}); !reflect.DeepEqual(a, want) {
		t.Errorf("%+v\nwant\n%+v", a, want)
	}
	if b := got["b"]; b.Source != Box || !b.Date.IsZero() || !b.NotSettled || b.Settled != 0 {
		t.Errorf("on a box: %+v", b)
	}
	if c := got["c"]; c.Source != Paper || c.Date != day(1) || !c.Start.IsZero() || !c.NotSettled || !slices.Equal(c.Notes, []string{"hand was cold", "done late"}) {
		t.Errorf("from paper: %+v", c)
	}
	if d := got["d"]; !d.WrongDay || !d.Date.IsZero() || !d.Start.IsZero() {
		t.Errorf("on a wrong day: %+v", d)
	}
	if e := got["e"]; e.Dose != nil || e.Level == nil || e.Level.Goal != 0 || e.Level.Whole() {
		t.Errorf("in an older diary: %+v", e)
	}
}
