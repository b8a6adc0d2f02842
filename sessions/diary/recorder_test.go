package diary

import (
	"context"
	"errors"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"testing/synctest"
	"time"

	"glidepace/sessions"
)

// troubles collects what a recorder reports.
type troubles chan error

// next waits for what is reported next.
func (tr troubles) next(t *testing.T) error {
	t.Helper()
	select {
	case err := <-tr:
		return err
	case <-time.After(time.Minute):
		t.Fatal("nothing is reported")
		return nil
	}
}

// recording records the sample session into the diary at path.
func recording(o Options, path string, patience time.Duration) (*Recorder, troubles) {
	trouble := make(troubles, 10)
	return o.Record(path, *sample(time.Now()), patience, func(err error) { trouble <- err }), trouble
}

func TestRecorderWritesAsItGoes(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		path := filepath.Join(t.TempDir(), "state", "diary.db")
		begin := sample(time.Now())
		begin.Plan, begin.Before, begin.Cleared = "five repetitions", sessions.Ratings{Tingling: of(2)}, true
		r := Options{}.Record(path, *begin, time.Minute, func(err error) { t.Error(err) })
		d := opened(t, path) // another connection sees only what is committed
		if s := only(t, d); s.Outcome != "" || len(s.Events) != 3 || !s.Cleared || s.Plan != begin.Plan || s.Before.String() != "2/-" {
			t.Errorf("on return the diary has %+v", s)
		}
		kept := func(length time.Duration, done Amount, outcome sessions.Outcome) {
			t.Helper()
			do(t, r.Flush(t.Context()))
			if s := only(t, d); s.Length != length || s.Done != done || s.Outcome != outcome || s.String() != r.Session().String() {
				t.Errorf("the diary has\n%sthe recorder knows\n%s", s, r.Session())
			}
		}
		for n := 1; n <= 3; n++ {
			r.Event(rep(n))
			kept(rep(n).At, rep(n).Done, "")
			r.Event(Event{At: rep(n).At + time.Second, Kind: Paused}) // takes no totals back
			r.Event(Event{Kind: "mood"})                              // nor the length
			kept(rep(n).At+time.Second, rep(n).Done, "")
		}
		r.Event(Event{At: 35 * time.Second}.With(Stopping{true}))
		end := ending(4)
		end.Outcome = sessions.Symptoms
		r.End(end)
		kept(end.At, end.Done, sessions.Symptoms)
		// What is said after the end does not make the session longer.
		r.Event(answer(Nothing, ""))
		r.Event(Event{At: time.Hour, Kind: "mood", Detail: `{"calm":1}`})
		r.Event(Event{At: time.Minute}.With(Rating{AfterSession, sessions.Ratings{Tingling: of(3), Pain: of(0)}}))
		kept(end.At, end.Done, sessions.EndedEarly)
		do(t, r.Close(t.Context()))
		if s := only(t, d); len(s.Events) != 17 || s.Events[15].Detail != `{"calm":1}` || s.After.String() != "3/0" {
			t.Errorf("%+v", s)
		}
		noLocks(t, path)
	})
}

func TestRecorderHandsBackWhatItCannotWrite(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		file := filepath.Join(t.TempDir(), "file")
		do(t, os.WriteFile(file, nil, 0o600))
		r, trouble := recording(Options{}, filepath.Join(file, "diary.db"), time.Minute)
		r.Event(rep(1))
		time.Sleep(3 * retryPause)
		r.End(ending(1))
		soon, cancel := context.WithTimeout(t.Context(), time.Second)
		defer cancel()
		if err := r.Flush(soon); !errors.Is(err, context.DeadlineExceeded) {
			t.Errorf("Flush: %v", err)
		}
		var lost *UnwrittenError
		if err := r.Close(t.Context()); !errors.As(err, &lost) {
			t.Fatalf("Close: %v, want an UnwrittenError", err)
		}
		if len(trouble) != 1 || !errors.As(<-trouble, new(*PlaceError)) {
			t.Error("trouble was not reported once, as a PlaceError")
		}
		text := lost.Session.String()
		for _, want := range []string{"First week, right hand", "K-204", "1 of 10", "completed", lost.Session.ID} {
			if !strings.Contains(text, want) {
				t.Errorf("%q is missing in\n%s", want, text)
			}
		}
	})
}

func TestRecorderTriesAgain(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		file := filepath.Join(t.TempDir(), "file")
		path := filepath.Join(file, "diary.db")
		do(t, os.WriteFile(file, nil, 0o600)) // in the way of the folder
		var told []string
		r, trouble := recording(Options{Card: true, Committed: func(e Event) {
			told = append(told, string(e.Kind))
			if s := only(t, opened(t, path)); e.Kind == Repetition && s.Done.Repetitions != e.Rep {
				t.Errorf("told of repetition %d, the diary has %d", e.Rep, s.Done.Repetitions)
			}
		}}, path, time.Minute)
		r.Event(rep(1))
		time.Sleep(3 * retryPause)
		synctest.Wait()
		if told != nil {
			t.Errorf("told of %v, and nothing is written", told)
		}
		do(t, os.Remove(file)) // the cure, in mid-session
		r.Event(rep(2))
		time.Sleep(retryPause + time.Second)
		synctest.Wait()
		d := opened(t, path)
		if s := only(t, d); s.Outcome != "" || s.Done != rep(2).Done || len(s.Events) != 3 {
			t.Errorf("after the pause the diary has %+v", s)
		}
		r.Event(rep(3))
		r.End(ending(3))
		r.Event(Event{Kind: Rated})
		do(t, r.Close(t.Context()))
		if s := only(t, d); s.Outcome != sessions.Completed || len(s.Events) != 6 || len(trouble) != 1 {
			t.Errorf("%+v, %d troubles", s, len(trouble))
		}
		if want := "started repetition repetition repetition ended rating"; strings.Join(told, " ") != want {
			t.Errorf("told of %v, want %s", told, want)
		}
	})
}

func TestRecorderOnAFullDisk(t *testing.T) {
	path := filepath.Join(t.TempDir(), "diary.db")
	var told []Kind
	r, trouble := recording(Options{Committed: func(e Event) { told = append(told, e.Kind) }}, path, time.Minute)
	limitPages(t, r.d, "1")
	long := rep(1)
	long.Detail = strings.Repeat("x", 1<<16) // more than the pages at hand can take
	r.Event(long)
	r.Event(rep(2))
	if err := <-trouble; !strings.Contains(err.Error(), "the disk is full") || !strings.Contains(err.Error(), path) {
		t.Errorf("trouble: %v", err)
	}
	d := opened(t, path)
	if s := only(t, d); len(s.Events) != 1 || len(told) != 1 {
		t.Errorf("the full diary has %d events, told of %v", len(s.Events), told)
	}
	limitPages(t, r.d, "1000000")
	r.End(ending(2))
	do(t, r.Close(context.Background()))
	if s := only(t, d); s.Outcome != sessions.Completed || len(s.Events) != 4 || s.Events[1] != long || len(trouble) > 0 {
		t.Errorf("outcome %q, %d events", s.Outcome, len(s.Events))
	}
}

// A diary that goes away in a session takes with it what was written: all of the
// session is handed back.
func TestRecorderSeesThatTheDiaryIsGone(t *testing.T) {
	for _, o := range bothWays {
		for name, remove := range map[string]func(path string){
			"deleted": func(path string) {
				for _, f := range must(Files(path)) {
					check(os.Remove(f))
				}
			},
			"moved": func(path string) { check(os.Rename(path, path+".old")) },
			"replaced": func(path string) {
				for _, f := range must(Files(path)) {
					check(os.Rename(f, f+".old"))
				}
				check(must(o.Open(path)).Close())
			},
			"its folder moved": func(path string) { check(os.Rename(filepath.Dir(path), filepath.Dir(path)+".old")) },
		} {
			for _, after := range []string{"a repetition", "the end"} {
				path := filepath.Join(t.TempDir(), "state", "diary.db")
				r, trouble := recording(o, path, time.Minute)
				r.Event(rep(1))
				if after == "the end" {
					r.End(ending(1))
				}
				do(t, r.Flush(t.Context()))
				remove(path)
				if after == "a repetition" {
					r.Event(rep(2))
					if err := trouble.next(t); !errors.As(err, new(*PlaceError)) || !strings.Contains(err.Error(), "deleted, moved or replaced") {
						t.Errorf("%s after %s: trouble %v", name, after, err)
					}
					r.End(ending(2))
				}
				lost, ok := errors.AsType[*UnwrittenError](r.Close(t.Context()))
				want := map[string]int{"a repetition": 2, "the end": 1}[after]
				if !ok || lost.Session.Done.Repetitions != want || lost.Session.Outcome != sessions.Completed || !errors.As(lost, new(*PlaceError)) {
					t.Errorf("%s after %s: %+v", name, after, lost)
				}
			}
		}
	}
}

// Where it comes back, all goes on in it.
func TestRecorderFindsTheDiaryAgain(t *testing.T) {
	path := filepath.Join(t.TempDir(), "diary.db")
	r, trouble := recording(Options{Card: true}, path, time.Minute)
	r.Event(rep(1))
	do(t, r.Flush(t.Context()), os.Rename(path, path+".old"))
	r.Event(rep(2))
	trouble.next(t)
	do(t, os.Rename(path+".old", path))
	r.End(ending(2))
	do(t, r.Close(t.Context()))
	if s := only(t, opened(t, path)); s.Outcome != sessions.Completed || len(s.Events) != 4 {
		t.Errorf("%+v", s)
	}
}

func TestRecorderDoesNotWaitForABusyDiary(t *testing.T) {
	d := fresh(t)
	tx := must(d.db.Begin()) // holds the right to write
	r, trouble := recording(Options{}, d.path, time.Millisecond)
	if err := <-trouble; !strings.Contains(err.Error(), d.path) {
		t.Errorf("trouble: %v", err)
	}
	r.Event(rep(1))
	r.End(ending(1))
	over, cancel := context.WithCancel(context.Background())
	cancel()
	var lost *UnwrittenError
	if err := r.Close(over); !errors.As(err, &lost) || lost.Session.Done.Repetitions != 1 {
		t.Errorf("Close while the diary is busy: %v", err)
	}
	do(t, tx.Rollback(), r.Close(context.Background()))
	if s := only(t, d); s.Outcome != sessions.Completed || len(s.Events) != 3 {
		t.Errorf("%+v", s)
	}
	noLocks(t, d.path)
}

func TestRecorderWithoutAnEnd(t *testing.T) {
	path := filepath.Join(t.TempDir(), "diary.db")
	r := Options{}.Record(path, *sample(time.Now()), time.Minute, func(err error) { t.Error(err) })
	r.Event(rep(1))
	do(t, r.Close(context.Background()))
	noLocks(t, path)
	if s := only(t, opened(t, path)); s.Outcome != sessions.Interrupted || s.Done.Repetitions != 1 {
		t.Errorf("%+v", s)
	}
}
