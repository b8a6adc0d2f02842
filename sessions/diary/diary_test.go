package diary

import (
	"bytes"
	"database/sql"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"reflect"
	"strings"
	"sync"
	"testing"
	"time"
	_ "time/tzdata"

	"pgregory.net/rapid"

	"glidepace/sessions"
)

func TestDefaultPathFollowsTheEnvironment(t *testing.T) {
	state := t.TempDir()
	t.Setenv("XDG_STATE_HOME", state)
	if got, want := DefaultPath(), filepath.Join(state, "glidepace", "diary.db"); got != want {
		t.Errorf("DefaultPath() = %s, want %s", got, want)
	}
}

func TestReadingMakesNothing(t *testing.T) {
	dir := t.TempDir()
	path := filepath.Join(dir, "state", "diary.db")
	_, err := OpenExisting(path)
	var none *NoDiaryError
	if !errors.As(err, &none) || none.Path != path {
		t.Fatalf("error %v, want a NoDiaryError for %s", err, path)
	}
	if entries, _ := os.ReadDir(dir); len(entries) > 0 {
		t.Errorf("reading made %s", entries[0].Name())
	}
	// A blank file is no diary yet either, and stays blank.
	blank := filepath.Join(dir, "blank.db")
	do(t, os.WriteFile(blank, nil, 0o600))
	if _, err := OpenExisting(blank); !errors.As(err, &none) {
		t.Errorf("blank file: error %v, want a NoDiaryError", err)
	}
	if b, err := os.ReadFile(blank); err != nil || len(b) > 0 {
		t.Errorf("the blank file now has %d bytes (%v)", len(b), err)
	}
}

func TestOddPaths(t *testing.T) {
	for _, name := range []string{"a b", "50%", "why?mode=ro", "x#1", "[ab]", "ü"} {
		path := filepath.Join(t.TempDir(), name, name+".db")
		d := opened(t, path)
		begun(t, d, sample(time.Now())).Leave()
		if _, err := os.Stat(path); err != nil {
			t.Error(err)
		}
		if s := only(t, opened(t, path)); s.Outcome != sessions.Interrupted {
			t.Errorf("%s: outcome %q", path, s.Outcome)
		}
	}
}

func TestRefusesWhatIsNoDiary(t *testing.T) {
	dir := t.TempDir()
	text := filepath.Join(dir, "session.yaml")
	do(t, os.WriteFile(text, []byte(strings.Repeat("glidepace: 1\n", 100)), 0o600))
	other := filepath.Join(dir, "other.db")
	db := must(sql.Open("sqlite", other))
	must(db.Exec("CREATE TABLE shopping (item TEXT)"))
	do(t, db.Close())
	newer := filepath.Join(dir, "newer.db")
	d := opened(t, newer)
	must(d.db.Exec("PRAGMA user_version = 99"))
	do(t, d.Close())

	for path, want := range map[string]string{
		text:                               "not a diary of glidepace",
		other:                              "not a diary of glidepace",
		newer:                              "update glidepace",
		dir:                                "not a file",
		filepath.Join(text, "x.db"):        "diary ",
		filepath.Join(text, "y", "x.db"):   "diary ",
		filepath.Join(dir, "\x00", "x.db"): "diary ",
	} {
		before, _ := os.ReadFile(path)
		for _, open := range []func(string) (*Diary, error){Open, OpenExisting} {
			_, err := open(path)
			var none *NoDiaryError
			if errors.As(err, &none) {
				continue // on some systems there is nothing beneath a file, on others that is an error
			}
			if err == nil || !strings.Contains(err.Error(), want) || !strings.Contains(err.Error(), path) {
				t.Errorf("%s: error %v, want the path and %q", path, err, want)
			}
		}
		if after, _ := os.ReadFile(path); !bytes.Equal(before, after) {
			t.Errorf("%s was changed", path)
		}
	}
	if entries, _ := os.ReadDir(dir); len(entries) != 3 {
		t.Errorf("files were left beside those that were refused: %v", entries)
	}
}

// nextFormat makes the format one newer, until it is called or the test ends.
func nextFormat(t *testing.T) (back func()) {
	released := migrations
	back = func() { migrations = released }
	t.Cleanup(back)
	migrations = append(migrations[:len(migrations):len(migrations)], "ALTER TABLE sessions ADD COLUMN mood TEXT NOT NULL DEFAULT 'calm'")
	return back
}

func TestOlderDiaryIsBroughtUpToDate(t *testing.T) {
	for _, o := range bothWays {
		d := openedWith(t, o, filepath.Join(t.TempDir(), "diary.db"))
		do(t, begun(t, d, sample(time.Now())).End(ending(3)), d.Close())
		back := nextFormat(t)
		d = openedWith(t, o, d.path)
		if s := only(t, d); s.Done.Repetitions != 3 || pragma(t, d, "user_version") != fmt.Sprint(len(migrations)) {
			t.Errorf("%+v: after the change %+v", o, s)
		}
		must(d.db.Exec("UPDATE sessions SET mood = 'warm'"))
		do(t, begun(t, d, sample(time.Now())).End(ending(1)), d.Close())
		back()
		if _, err := o.Open(d.path); err == nil || !strings.Contains(err.Error(), "newer glidepace") {
			t.Errorf("%+v: opened by the older program: %v", o, err)
		}
	}
}

func TestSessionComesBackAsItWas(t *testing.T) {
	d := fresh(t)
	rapid.Check(t, func(t *rapid.T) {
		text := rapid.String()
		count := rapid.IntRange(0, 1000)
		moment := rapid.Custom(func(t *rapid.T) time.Time {
			zone := time.FixedZone("", 60*rapid.IntRange(-14*60, 14*60).Draw(t, "offset"))
			return time.UnixMilli(rapid.Int64Range(0, 4e12).Draw(t, "ms")).In(zone)
		})
		span := rapid.Custom(func(t *rapid.T) time.Duration {
			return time.Duration(rapid.Int64Range(0, int64(24*time.Hour)).Draw(t, "ns"))
		})
		amount := rapid.Custom(func(t *rapid.T) Amount {
			return Amount{count.Draw(t, "sets"), count.Draw(t, "reps"), count.Draw(t, "breaths")}
		})
		want := Session{
			Title: text.Draw(t, "title"), Patient: text.Draw(t, "patient"), Prescription: text.Draw(t, "hash"),
			Started: moment.Draw(t, "started"), Planned: amount.Draw(t, "planned"),
			RateStart: rapid.Float64Range(3, 30).Draw(t, "from"), RateEnd: rapid.Float64Range(3, 30).Draw(t, "to"),
			Match: text.Draw(t, "match"), Sound: text.Draw(t, "sound"), Source: "paced", Extra: rapid.Bool().Draw(t, "extra"),
			Plan: text.Draw(t, "plan"),
		}
		r, err := d.Begin(&want)
		if err != nil {
			t.Fatal(err)
		}
		want.Events = []Event{{Kind: Started, Detail: want.Plan}}
		for range rapid.IntRange(0, 3).Draw(t, "events") {
			e := Event{At: span.Draw(t, "at"), Kind: Kind(text.Draw(t, "kind")), Exercise: count.Draw(t, "exercise"),
				Side: text.Draw(t, "side"), Set: count.Draw(t, "set"), Rep: count.Draw(t, "rep"),
				Done: amount.Draw(t, "done"), Detail: text.Draw(t, "detail")}
			if err := r.Event(e); err != nil {
				t.Fatal(err)
			}
			want.Events = append(want.Events, e)
		}
		end := Ending{When: moment.Draw(t, "ended"), At: span.Draw(t, "length"),
			Outcome: sessions.EndedEarly, Done: amount.Draw(t, "done")}
		if err := r.End(end); err != nil {
			t.Fatal(err)
		}
		want.Ended, want.Length, want.Outcome, want.Done = end.When, end.At, end.Outcome, end.Done
		want.Events = append(want.Events, end.event())

		got, err := d.Show(want.ID)
		if err != nil {
			t.Fatal(err)
		}
		if !got.Started.Equal(want.Started) || !got.Ended.Equal(want.Ended) || got.Started.Format(time.RFC3339) != want.Started.Format(time.RFC3339) {
			t.Fatalf("times %v, %v; want %v, %v", got.Started, got.Ended, want.Started, want.Ended)
		}
		got.Started, got.Ended, want.Started, want.Ended = time.Time{}, time.Time{}, time.Time{}, time.Time{}
		if !reflect.DeepEqual(got, want) {
			t.Fatalf("got  %+v\nwant %+v", got, want)
		}
	})
}

func TestWhatHoldsALockIsAlive(t *testing.T) {
	d := fresh(t)
	alive, dead := sample(time.Now()), sample(time.Now())
	r := begun(t, d, alive)
	gone := begun(t, d, dead)
	do(t, gone.Event(rep(1)), gone.Event(rep(2)), gone.Event(Event{At: 25 * time.Second, Kind: Paused}))
	gone.Leave()
	stray := lockPath(d.path, newID()) // of a session that is not there
	do(t, os.WriteFile(stray, nil, 0o600))

	again := opened(t, d.path)
	s := must(again.Show(dead.ID))
	if s.Outcome != sessions.Interrupted || s.Length != 25*time.Second || s.Done.Repetitions != 2 {
		t.Errorf("left session: %+v", s)
	}
	if got := s.Ended.Sub(s.Started).Round(time.Millisecond); got != s.Length {
		t.Errorf("it ended %v after its start, want %v", got, s.Length)
	}
	if s, err := again.Show(alive.ID); err != nil || s.Outcome != "" {
		t.Errorf("running session: outcome %q, %v", s.Outcome, err)
	}
	if _, err := os.Stat(stray); err == nil {
		t.Error("a leftover lock file is still there")
	}
	if _, err := os.Stat(lockPath(d.path, alive.ID)); err != nil {
		t.Errorf("the lock of the running session: %v", err)
	}
	do(t, r.Event(rep(1)), r.End(ending(1)))
	noLocks(t, d.path)
}

// A program that is cut off between the end of its session and the removal of
// the lock file takes nothing back.
func TestEndedSessionKeepsItsOutcome(t *testing.T) {
	d := fresh(t)
	r := begun(t, d, sample(time.Now()))
	if err := r.End(Ending{}); err == nil {
		t.Error("ended without an outcome")
	}
	do(t, r.End(ending(1)), os.WriteFile(lockPath(d.path, r.id), nil, 0o600))
	if s := only(t, opened(t, d.path)); s.Outcome != sessions.Completed {
		t.Errorf("outcome %q, want completed", s.Outcome)
	}
	noLocks(t, d.path)
}

func TestLockIsHeldWhoeverTidies(t *testing.T) {
	d := fresh(t)
	id := newID()
	stop := make(chan struct{})
	var tidy sync.WaitGroup
	for range 2 {
		tidy.Go(func() {
			for {
				select {
				case <-stop:
					return
				default:
				}
				if lock, free := d.take(id); free && lock != nil {
					release(lock)
				}
			}
		})
	}
	for range 2000 {
		lock, err := d.hold(id)
		if err != nil {
			t.Error(err)
			break
		}
		if _, free := d.take(id); free {
			t.Error("a lock that is held looks free")
			break
		}
		release(lock)
	}
	close(stop)
	tidy.Wait()
}

func TestBeginThatFailsLeavesNoLock(t *testing.T) {
	d := fresh(t)
	do(t, d.Close())
	if _, err := d.Begin(sample(time.Now())); err == nil {
		t.Error("a closed diary began a session")
	}
	noLocks(t, d.path)
}

func TestNewDiaryWaitsForAnotherProgram(t *testing.T) {
	path := filepath.Join(t.TempDir(), "diary.db")
	do(t, os.WriteFile(path, nil, 0o600))
	db := must(sql.Open("sqlite", Options{}.source(path)))
	defer db.Close()
	tx := must(db.Begin()) // makes the file a diary, and is not done yet
	result := make(chan error)
	go func() {
		d, err := Open(path)
		if err == nil {
			d.Close()
		}
		result <- err
	}()
	select {
	case err := <-result:
		t.Errorf("opened while the file was taken: %v", err)
		tx.Rollback()
	case <-time.After(100 * time.Millisecond):
		do(t, tx.Rollback(), <-result)
	}
}

func TestSessionTakenForDeadStillEnds(t *testing.T) {
	d := fresh(t)
	r := begun(t, d, sample(time.Now()))
	do(t, r.Event(rep(1)), os.Remove(lockPath(d.path, r.id))) // somebody tidies up by hand
	if s := only(t, opened(t, d.path)); s.Outcome != sessions.Interrupted {
		t.Fatalf("outcome %q", s.Outcome)
	}
	do(t, r.Event(rep(2)), r.End(ending(2)))
	if s := only(t, d); s.Outcome != sessions.Completed || s.Done.Repetitions != 2 || len(s.Events) != 4 {
		t.Errorf("%+v", s)
	}
}

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
func zoned(t *testing.T, zone, clock string) time.Time {
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
		{"b000000000", "K-204", "Two", "2026-12-01 08:00:00"},
	} {
		s := sample(zoned(t, "Europe/Berlin", c.started))
		s.ID, s.Patient, s.Title = c.id, c.patient, c.title
		do(t, begun(t, d, s).End(ending(1)))
	}
	for f, want := range map[Filter]string{
		{}:                                     "bac",
		{Patient: "K-204"}:                     "ba",
		{Title: "Two"}:                         "bc",
		{From: "2026-12-02"}:                   "ac",
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

func TestSessionInPlainLines(t *testing.T) {
	s := sample(zoned(t, "Europe/Berlin", "2026-12-01 08:30:00"))
	s.ID, s.Length, s.Done, s.Outcome, s.Extra = "k000000000", 125*time.Second, Amount{0, 7, 8}, sessions.EndedEarly, true
	s.Events = []Event{{Kind: Started}, rep(1), {At: 75 * time.Second, Kind: Paused, Exercise: 1, Side: "right", Set: 1, Rep: 7}, {At: 125 * time.Second, Kind: Ended, Detail: "ended-early"}}
	const want = `session      k000000000
title        First week, right hand
patient      K-204
started      2026-12-01 08:30 +01:00
length       2m5s
repetitions  7 of 10
breaths      8 of 11
sets         0 of 1
rate         12 to 8 breaths a minute
match        exhale-on-glide
sound        off
outcome      ended early
extra        beyond the dose
             0:00 started
             1:15 paused  exercise 1, set 1, repetition 7, right
             2:05 ended  ended-early
`
	if got := s.String(); got != want {
		t.Errorf("got\n%s\nwant\n%s", got, want)
	}
}
