package diary

import (
	"bufio"
	"context"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"glidepace/sessions"
)

// The test binary runs itself as another program that writes a diary: its part
// and the diary's path are in this variable.
const partVariable = "GLIDEPACE_DIARY_TEST"

func TestMain(m *testing.M) {
	part, path, other := strings.Cut(os.Getenv(partVariable), " ")
	if !other {
		os.Exit(m.Run())
	}
	map[string]func(path string){
		"sessions": writeSessions, "endless": writeEndlessly, "questions": askAfterwards, "merge": mergeAndDie,
	}[part](path)
	os.Exit(0)
}

// program starts the test binary as another program with the given part, and
// returns the lines that it prints.
func program(t *testing.T, part, path string, environment ...string) (*exec.Cmd, *bufio.Scanner) {
	t.Helper()
	c := exec.Command(must(os.Executable()))
	c.Env = append(append(os.Environ(), partVariable+"="+part+" "+path), environment...)
	c.Stderr = os.Stderr
	out := must(c.StdoutPipe())
	do(t, c.Start())
	return c, bufio.NewScanner(out)
}

const sessionsEach, repsEach = 12, 5

// writeSessions opens the diary anew for each of its sessions.
func writeSessions(path string) {
	for range sessionsEach {
		d := must(Open(path))
		r := must(d.Begin(sample(time.Now())))
		for i := range repsEach {
			check(r.Event(rep(i + 1)))
		}
		if s := must(d.Show(r.id)); s.Outcome != "" {
			panic("a running session reads " + s.Outcome)
		}
		check(r.End(ending(repsEach)), d.Close())
	}
}

// writeEndlessly says of each repetition when it is committed, and never ends.
func writeEndlessly(path string) {
	r := must(must(Open(path)).Begin(sample(time.Now())))
	for i := 1; ; i++ {
		check(r.Event(rep(i)))
		fmt.Println("recorded", i)
	}
}

// askAfterwards says what is safe in the diary of a session that is over, and
// waits for an answer that never comes.
func askAfterwards(path string) {
	s := sample(time.Now())
	s.Before = sessions.Ratings{Tingling: of(2), Pain: of(0)}
	r := Options{}.Record(path, *s, time.Minute, func(err error) { panic(err) })
	say := func(what string) {
		check(r.Flush(context.Background()))
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

// must returns what a call returned, and panics if it failed.
func must[T any](value T, err error) T {
	check(err)
	return value
}

// check panics at the first error.
func check(errs ...error) {
	for _, err := range errs {
		if err != nil {
			panic(err)
		}
	}
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

// bothWays has the ways to keep a diary.
var bothWays = []Options{{}, {Card: true}}

// opened opens the diary at path until the end of the test.
func opened(t testing.TB, path string) *Diary { return openedWith(t, Options{}, path) }

// card opens a diary on a card until the end of the test.
func card(t testing.TB, path string) *Diary { return openedWith(t, Options{Card: true}, path) }

func openedWith(t testing.TB, o Options, path string) *Diary {
	t.Helper()
	d, err := o.Open(path)
	do(t, err)
	t.Cleanup(func() { d.Close() })
	return d
}

// fresh is a new diary.
func fresh(t testing.TB) *Diary { return opened(t, filepath.Join(t.TempDir(), "diary.db")) }

// begun begins a session.
func begun(t testing.TB, d *Diary, s *Session) *Running {
	t.Helper()
	r, err := d.Begin(s)
	do(t, err)
	return r
}

// do fails the test at the first error.
func do(t testing.TB, errs ...error) {
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
	return must(d.Show(list[0].ID))
}

// limitPages makes the disk full for an open diary that has so many pages.
func limitPages(t *testing.T, d *Diary, pages string) {
	t.Helper()
	must(d.db.Exec("PRAGMA max_page_count = " + pages))
}

// noLocks fails the test if a lock file is left beside the diary.
func noLocks(t *testing.T, path string) {
	t.Helper()
	if left := must(filepath.Glob(filepath.Join(filepath.Dir(path), "*.lock"))); len(left) > 0 {
		t.Errorf("lock files left: %v", left)
	}
}
