package diary

import (
	"os"
	"path/filepath"
	"strings"
	"sync"
	"testing"
	"time"

	"glidepace/sessions"
)

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

// A session that runs is alive by whatever path its diary is opened.
func TestLockIsOfTheFile(t *testing.T) {
	d := fresh(t)
	link := filepath.Join(t.TempDir(), "link.db")
	do(t, os.Symlink(d.path, link))
	for from, to := range map[string]string{d.path: link, link: d.path} {
		s := sample(time.Now())
		r := begun(t, opened(t, from), s)
		if s := must(opened(t, to).Show(s.ID)); s.Outcome != "" {
			t.Errorf("begun by %s, by %s it reads %q", from, to, s.Outcome)
		}
		if _, err := fresh(t).Merge(to); err == nil || !strings.Contains(err.Error(), "still runs") {
			t.Errorf("begun by %s, merged from %s: %v", from, to, err)
		}
		do(t, r.End(ending(1)))
		noLocks(t, link)
		noLocks(t, d.path)
	}
}

// An id that is none makes no name of a file.
func TestLockOfABadID(t *testing.T) {
	d := fresh(t)
	begun(t, d, sample(time.Now())).Leave()
	do(t, os.Mkdir(d.path+".", 0o700))
	other := filepath.Join(filepath.Dir(d.path), "other.lock")
	do(t, os.WriteFile(other, nil, 0o600))
	must(d.db.Exec("PRAGMA foreign_keys = OFF; UPDATE sessions SET id = '/../other'"))
	opened(t, d.path)
	if _, err := os.Stat(other); err != nil {
		t.Error(err)
	}
}
