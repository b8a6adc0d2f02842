package diary

import (
	"glidepace/sessions"
	"reflect"
	"strings"
	"testing"
	"time"
)

// common is what the sessions of a sheet share.
func common() Session {
	s := *sample(time.Time{})
	s.Plan = `{"reps":5}`
	return s
}

func TestEnterFromPaper(t *testing.T) {
	d := fresh(t)
	ticks := []Tick{
		{Date: "2026-12-02", Number: 2, Repetitions: 8},
		{Date: "2026-12-02", Number: 1, Repetitions: 10, Before: sessions.Ratings{Tingling: of(2), Pain: of(0)}, After: sessions.Ratings{Tingling: of(3), Pain: of(1)}, NotSettled: true, Note: "warm hands"},
		{Date: "2026-12-01", Number: 1, Repetitions: 10, After: sessions.Ratings{Pain: of(0)}},
		{Date: "2026-12-03", Number: 1, Repetitions: 12},
	}
	entry := must(d.Enter(Sheet{Repetitions: 12, SettleWithin: 2 * time.Minute}, always(common()), ticks))
	if entry.Added != 4 || entry.There != 0 || entry.Different != nil {
		t.Errorf("%+v", entry)
	}
	list := must(d.List(Filter{}))
	if len(list) != 4 || list[0].Date != "2026-12-01" || list[1].Number != 1 || list[2].Number != 2 {
		t.Fatalf("listed %+v", list)
	}
	s := list[1]
	if s.Outcome != sessions.Completed || s.Done != s.Planned || s.Source != FromPaper || s.When() != "2026-12-02" || !s.Started.IsZero() || !s.Ended.IsZero() ||
		s.Before.String() != "2/0" || s.After.String() != "3/1" || *s.Settling != (Settling{Settled: false, After: 120}) || s.Plan == "" || len(s.Notes) != 1 || s.Notes[0].Text != "warm hands" {
		t.Errorf("the whole session: %+v", s)
	}
	if s := list[2]; s.Outcome != sessions.EndedEarly || s.Settling != nil || s.Done != (Amount{Repetitions: 8}) || !s.Before.IsZero() || !s.After.IsZero() {
		t.Errorf("the one ended early: %+v", s)
	}
	if s := list[3]; s.Outcome != sessions.Completed || s.Done.Repetitions != 12 {
		t.Errorf("more than was asked for that day: %+v", s)
	}
	for date, want := range map[string]int{"2026-12-01": 1, "2026-12-02": 2, "2026-12-03": 1, "2026-12-04": 0} {
		if n, err := d.CountOn(date, Key{Patient: "K-204"}); n != want || err != nil {
			t.Errorf("%d sessions on %s (%v), want %d", n, date, err, want)
		}
	}
	if some, err := d.List(Filter{From: "2026-12-02", To: "2026-12-02"}); err != nil || len(some) != 2 {
		t.Errorf("%d sessions on the second day, %v", len(some), err)
	}
	shown := must(d.Show(s.ID))
	const want = `title        First week, right hand
patient      K-204
started      2026-12-02, time not known
source       paper
repetitions  10 of 10
rate         12 to 8 breaths a minute
movement     exhale through the glide, one breath a repetition
outcome      completed
before       tingling 2, pain 0
after        tingling 3, pain 1
settled      not within 2m0s
             started
             rating  before: tingling 2, pain 0
             entered  number 1 of the day
             ended  completed
             rating  after: tingling 3, pain 1
             settled  not within 2m0s
             note  warm hands
`
	if _, got, _ := strings.Cut(shown.String(), "\n"); got != want {
		t.Errorf("got\n%s\nwant\n%s", got, want)
	}
	noLocks(t, d.path)
}

func TestNeverEnteredTwice(t *testing.T) {
	d := fresh(t)
	first := Tick{Date: "2026-12-01", Number: 1, Repetitions: 10, Before: sessions.Ratings{Tingling: of(2), Pain: of(0)}, Note: "one"}
	must(d.Enter(Sheet{Repetitions: 10}, always(common()), []Tick{first}))
	there := only(t, d)

	fewer, rated, settled, noted, next := first, first, first, first, first
	fewer.Repetitions, rated.Before.Pain, settled.NotSettled, noted.Note, next.Number = 9, of(1), true, "two", 2
	edited := common() // the session file was changed in between
	edited.Prescription, edited.Title = "0000", "Second week"
	entry := must(d.Enter(Sheet{Repetitions: 10}, always(edited), []Tick{first, fewer, rated, settled, noted, next, next}))
	if entry.Added != 1 || entry.There != 2 || len(entry.Different) != 4 {
		t.Errorf("%+v", entry)
	}
	for i, want := range []Tick{fewer, rated, settled, noted} {
		if got := entry.Different[i]; !reflect.DeepEqual(got.Tick, want) || got.There.ID != there.ID {
			t.Errorf("different: %+v", got)
		}
	}
	if s, err := d.Show(there.ID); err != nil || s.String() != there.String() {
		t.Errorf("it was\n%sand is (%v)\n%s", there, err, s)
	}
	// A note that was added later changes nothing of that.
	must(d.Note(there.ID, "added", time.Now()))
	if entry, err := d.Enter(Sheet{Repetitions: 10}, always(common()), []Tick{first}); err != nil || entry.There != 1 {
		t.Errorf("with a note: %+v, %v", entry, err)
	}

	// The same paper has the same ids in any diary; other people's has others.
	other := fresh(t)
	must(other.Enter(Sheet{Repetitions: 10}, always(common()), []Tick{first}))
	if id := only(t, other).ID; id != there.ID {
		t.Errorf("in another diary it is %s, not %s", id, there.ID)
	}
	// It has them in every version: these are from the first.
	for want, got := range map[string]string{
		"v1ehe62dfr": Tick{Date: "2026-12-01", Number: 1}.id(Key{"K-204", ""}),
		"f73dvq6rdh": Tick{Date: "2026-12-02", Number: 2}.id(Key{"", "Week 1"}),
	} {
		if got != want {
			t.Errorf("id %s, want %s", got, want)
		}
	}
	ids := map[string]bool{}
	for _, k := range []Key{{"K-204", ""}, {"K-205", ""}, {"", "Week 1"}, {"", "Week 2"}, {"Week 1", ""}} {
		for _, date := range []string{"2026-12-01", "2026-12-02"} {
			for n := 1; n <= maxDaily; n++ {
				id := Tick{Date: date, Number: n}.id(k)
				if len(id) != idLength || strings.Trim(id, idLetters) != "" || id[0] < 'a' || ids[id] {
					t.Errorf("%+v %s %d: id %q", k, date, n, id)
				}
				ids[id] = true
			}
		}
	}
}

func TestEnterAllOrNothing(t *testing.T) {
	d := fresh(t)
	good := Tick{Date: "2026-12-01", Number: 1, Repetitions: 10}
	for want, spoil := range map[string]func(*Tick){
		`"1.12.2026" is no date`: func(t *Tick) { t.Date = "1.12.2026" },
		"number 0 of the day":    func(t *Tick) { t.Number = 0 },
		"number 6 of the day":    func(t *Tick) { t.Number = 6 },
		"0 repetitions":          func(t *Tick) { t.Repetitions = 0 },
		"11 repetitions":         func(t *Tick) { t.Repetitions = 11 },
		"rating 11":              func(t *Tick) { t.Before.Tingling = of(11) },
		"rating -1":              func(t *Tick) { t.After.Pain = of(-1) },
		"U+000A":                 func(t *Tick) { t.Note = "a\nb" },
	} {
		bad := good
		spoil(&bad)
		entry, err := d.Enter(Sheet{Repetitions: 10}, always(common()), []Tick{good, bad})
		if err == nil || !strings.Contains(err.Error(), want) || entry.Added != 0 {
			t.Errorf("%+v, error %v, want %q", entry, err, want)
		}
	}
	limitPages(t, d, "1") // and where the disk fails
	long := good
	long.Number, long.Note = 2, strings.Repeat("x", maxNote)
	var many []Tick
	for day := 1; day <= 28; day++ {
		long.Date = time.Date(2026, 11, day, 0, 0, 0, 0, time.UTC).Format(time.DateOnly)
		many = append(many, long)
	}
	if _, err := d.Enter(Sheet{Repetitions: 10}, always(common()), many); err == nil || !strings.Contains(err.Error(), "the disk is full") {
		t.Errorf("on a full disk: %v", err)
	}
	if list, err := d.List(Filter{}); err != nil || len(list) != 0 {
		t.Errorf("%d sessions were written (%v)", len(list), err)
	}
}

func TestDaysInOrder(t *testing.T) {
	d := fresh(t)
	// Late in the evening in the west it is the next day in UTC already.
	paced := sample(zoned(t, "America/New_York", "2026-12-01 23:30:00"))
	behind := sample(zoned(t, "Europe/Berlin", "2026-11-30 08:00:00")) // recorded after it, by another clock
	do(t, begun(t, d, paced).End(ending(1)), begun(t, d, behind).End(ending(1)))
	_, err := d.Enter(Sheet{Repetitions: 10}, always(common()), []Tick{
		{Date: "2026-12-02", Number: 2, Repetitions: 10}, {Date: "2026-12-02", Number: 1, Repetitions: 10}, {Date: "2026-12-01", Number: 1, Repetitions: 10},
	})
	do(t, err)
	begun(t, d, sample(time.Time{})).Leave() // date not known: after what the diary recorded before it
	list := must(d.List(Filter{}))
	var got []string
	for _, s := range list {
		got = append(got, s.When())
	}
	if want := []string{"2026-11-30 08:00", "2026-12-01", "2026-12-01 23:30", "", "2026-12-02", "2026-12-02"}; !reflect.DeepEqual(got, want) || list[4].Number != 1 {
		t.Errorf("%q, want %q", got, want)
	}
}

// always asks for the same on every day.
func always(s Session) func(Tick) Session { return func(Tick) Session { return s } }
