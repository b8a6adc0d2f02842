package console

import (
	"errors"
	"strings"
	"sync"
	"testing"
	"testing/synctest"
	"time"
)

// still is a terminal that takes nothing until it goes on.
type still struct {
	goesOn chan struct{}
	fails  error

	mu    sync.Mutex
	taken strings.Builder
}

func (s *still) Write(b []byte) (int, error) {
	<-s.goesOn
	s.mu.Lock()
	defer s.mu.Unlock()
	s.taken.Write(b)
	return len(b), s.fails
}

func TestUnblocked(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		terminal := &still{goesOn: make(chan struct{})}
		u := Unblock(terminal)
		began, again := time.Now(), 0
		u.Again(func() { again++ })
		took := func(want time.Duration, what string) {
			t.Helper()
			if got := time.Since(began); got != want {
				t.Errorf("%s: %v, want %v", what, got, want)
			}
			began = time.Now()
		}
		write := func(text string) {
			t.Helper()
			if n, err := u.Write([]byte(text)); n != len(text) || err != nil {
				t.Errorf("%d, %v", n, err)
			}
		}
		write("one\n")
		took(100*time.Millisecond, "the first line that is not taken")
		write("two\n")
		line := strings.Repeat("x", 32<<10-1) + "\n"
		write(line)
		write(line) // more than 64 KiB
		write("three\n")
		took(0, "lines after that")
		if !u.Stuck() || again > 0 {
			t.Errorf("stuck: %v, goes on: %d", u.Stuck(), again)
		}
		Flush(u, terminal)
		took(500*time.Millisecond, "the end of the program")

		close(terminal.goesOn)
		synctest.Wait()
		if got, want := terminal.taken.String(), "one\ntwo\n"+line+"three\n"; got != want {
			t.Errorf("%d bytes were taken, want %d", len(got), len(want))
		}
		if u.Stuck() || again != 1 {
			t.Errorf("stuck: %v, goes on: %d", u.Stuck(), again)
		}
		terminal.fails = errors.New("gone")
		if _, err := u.Write([]byte("four\n")); !errors.Is(err, terminal.fails) {
			t.Errorf("error %v, want that of the terminal", err)
		}
		took(0, "a line that is taken")
	})
}
