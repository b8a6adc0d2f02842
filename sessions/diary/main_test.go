package diary

import (
	"context"
	"fmt"
	"glidepace/sessions"
	"os"
	"os/exec"
	"os/signal"
	"path/filepath"
	"strings"
	"testing"
	"time"
)

// The test binary runs itself as another program that writes a diary: its part
// and the diary's path are in this variable.
const partVariable = "GLIDEPACE_DIARY_TEST"

func TestMain(m *testing.M) {
	part, path, other := strings.Cut(os.Getenv(partVariable), " ")
	if !other {
		os.Exit(m.Run())
	}
	parts := map[string]func(path string) error{
		"sessions": writeSessions, "endless": writeEndlessly, "signal": writeUntilSignal,
		"questions": askAfterwards, "merge": mergeAndDie,
	}
	if err := parts[part](path); err != nil {
		fmt.Fprintln(os.Stderr, err)
		os.Exit(1)
	}
	os.Exit(0)
}

// program returns the test binary as another program with the given part.
func program(t *testing.T, part, path string) *exec.Cmd {
	t.Helper()
	exe, err := os.Executable()
	if err != nil {
		t.Fatal(err)
	}
	c := exec.Command(exe)
	c.Env = append(os.Environ(), partVariable+"="+part+" "+path)
	c.Stderr = os.Stderr
	return c
}

const sessionsEach, repsEach = 12, 5

// writeSessions opens the diary anew for each of its sessions.
func writeSessions(path string) error {
	for range sessionsEach {
		d, err := Open(path)
		if err != nil {
			return err
		}
		r, err := d.Begin(sample(time.Now()))
		if err != nil {
			return err
		}
		for i := range repsEach {
			if err := r.Event(rep(i + 1)); err != nil {
				return err
			}
		}
		if s, err := d.Show(r.id); err != nil || s.Outcome != "" {
			return fmt.Errorf("a running session reads %q (%v)", s.Outcome, err)
		}
		if err := r.End(ending(repsEach)); err != nil {
			return err
		}
		if err := d.Close(); err != nil {
			return err
		}
	}
	return nil
}

// writeEndlessly says of each repetition when it is committed, and never ends.
func writeEndlessly(path string) error {
	d, err := Open(path)
	if err != nil {
		return err
	}
	r, err := d.Begin(sample(time.Now()))
	if err != nil {
		return err
	}
	for i := 1; ; i++ {
		if err := r.Event(rep(i)); err != nil {
			return err
		}
		fmt.Println("recorded", i)
	}
}

// writeUntilSignal ends its session early when it is interrupted.
func writeUntilSignal(path string) error {
	ctx, stop := signal.NotifyContext(context.Background(), os.Interrupt)
	defer stop()
	failed := make(chan error, 1)
	r := Options{}.Record(path, *sample(time.Now()), time.Minute, func(err error) { failed <- err })
	r.Event(rep(1))
	fmt.Println("running")
	select {
	case err := <-failed:
		return err
	case <-ctx.Done():
	}
	r.End(Ending{When: time.Now(), At: 12 * time.Second, Outcome: sessions.EndedEarly, Done: rep(1).Done})
	return r.Close(context.Background())
}

// askAfterwards says what is safe in the diary of a session that is over, and
// waits for an answer that never comes.
func askAfterwards(path string) error {
	s := sample(time.Now())
	s.Before = sessions.Ratings{Tingling: of(2), Pain: of(0)}
	r := Options{}.Record(path, *s, time.Minute, func(err error) { fmt.Fprintln(os.Stderr, err) })
	say := func(what string) {
		if err := r.Flush(context.Background()); err != nil {
			what = err.Error()
		}
		fmt.Println(what)
	}
	say("begun")
	r.Event(rep(1))
	r.End(ending(1))
	say("ended")
	r.Event(Event{At: time.Minute}.With(Rating{AfterSession, sessions.Ratings{Tingling: of(4), Pain: of(1)}}))
	say("rated")
	r.Event(Event{At: 3 * time.Minute}.With(Settling{false, 120}))
	say("timed")
	select {}
}

// of is a rating.
func of(n int) *int { return &n }

// sample is a session of ten repetitions that starts at the given time.
func sample(started time.Time) *Session {
	return &Session{
		Title: "First week, right hand", Patient: "K-204", Prescription: "5f1c",
		Started: started, Planned: Amount{1, 10, 11}, RateStart: 12, RateEnd: 8,
		Match: "exhale-on-glide", Sound: "off",
	}
}

// rep is the event of repetition n, done 10 seconds after the one before.
func rep(n int) Event {
	return Event{At: time.Duration(n) * 10 * time.Second, Kind: Repetition,
		Exercise: 1, Side: "right", Set: 1, Rep: n, Done: Amount{0, n, n + 1}}
}

// ending ends a session after n repetitions.
func ending(n int) Ending {
	return Ending{When: time.Now(), At: time.Duration(n) * 10 * time.Second, Outcome: sessions.Completed, Done: Amount{1, n, n + 1}}
}

// opened opens the diary at path until the end of the test.
func opened(t *testing.T, path string) *Diary {
	t.Helper()
	d, err := Open(path)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { d.Close() })
	return d
}

// fresh is a new diary.
func fresh(t *testing.T) *Diary { return opened(t, filepath.Join(t.TempDir(), "diary.db")) }

// begun begins a session.
func begun(t *testing.T, d *Diary, s *Session) *Running {
	t.Helper()
	r, err := d.Begin(s)
	if err != nil {
		t.Fatal(err)
	}
	return r
}

// do fails the test at the first error.
func do(t *testing.T, errs ...error) {
	t.Helper()
	for _, err := range errs {
		if err != nil {
			t.Fatal(err)
		}
	}
}

// only returns the one session of a diary, with its events.
func only(t *testing.T, d *Diary) Session {
	t.Helper()
	list := must(d.List(Filter{}))
	if len(list) != 1 {
		t.Fatalf("the diary has %d sessions, want 1", len(list))
	}
	s := must(d.Show(list[0].ID))
	return s
}

// limitPages makes the disk full for an open diary that has so many pages.
func limitPages(t *testing.T, d *Diary, pages string) {
	t.Helper()
	must(d.db.Exec("PRAGMA max_page_count = " + pages))

}

// noLocks fails the test when a lock file is left beside the diary.
func noLocks(t *testing.T, path string) {
	t.Helper()
	entries := must(os.ReadDir(filepath.Dir(path)))
	for _, e := range entries {
		if strings.HasSuffix(e.Name(), ".lock") {
			t.Errorf("lock file left: %s", e.Name())
		}
	}
}

// must returns what a call returned, and panics if it failed.
func must[T any](value T, err error) T {
	if err != nil {
		panic(err)
	}
	return value
}
