//go:build real

package program

import (
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"
)

// script returns a program that does what a shell script says.
func script(ctx context.Context, limits Limits, text string) *Program {
	return New(ctx, limits, "sh", "-c", text)
}

// What goes beyond a limit is ended, and the error says which it was.
func TestRealLimits(t *testing.T) {
	file := filepath.Join(t.TempDir(), "file")
	for _, c := range []struct {
		limits       Limits
		script, want string
	}{
		{Limits{Output: 1 << 20}, "yes", "it writes more than the 1024 kB that it should need"},
		{Limits{Output: 1 << 20}, "yes & sleep 1000", "it writes more than the 1024 kB that it should need"},
		{Limits{File: file, FileSize: 64 << 10}, "yes > " + file, "it writes more than the 64 kB that it should need"},
		{Limits{Time: 200 * time.Millisecond}, "sleep 1000", "no answer in 200ms"},
		{Limits{Time: 200 * time.Millisecond}, "trap '' TERM INT HUP; sleep 1000 & wait", "no answer in 200ms"},
	} {
		out, err := script(t.Context(), c.limits, c.script).Output()
		if err == nil || err.Error() != c.want {
			t.Errorf("%s: %v, want %s", c.script, err, c.want)
		}
		if len(out) > c.limits.Output {
			t.Errorf("%s: %d bytes were kept", c.script, len(out))
		}
	}
}

// A program that goes on reading has all the time it needs.
func TestRealReadingTakesTime(t *testing.T) {
	p := script(t.Context(), Limits{Time: time.Second}, "cat > /dev/null; echo said >&2; exit 3")
	in, err := p.Input()
	if err != nil {
		t.Fatal(err)
	}
	if err := p.Start(); err != nil {
		t.Fatal(err)
	}
	for range 15 {
		time.Sleep(100 * time.Millisecond)
		if _, err := io.WriteString(in, "more"); err != nil {
			t.Error(err)
		}
	}
	in.Close()
	if err := p.Wait(); err == nil || err.Error() != "exit status 3: said" {
		t.Error(err)
	}
}

// A program that reads nothing does not keep us from ending it.
func TestRealInputBreaks(t *testing.T) {
	p := script(t.Context(), Limits{Time: 200 * time.Millisecond}, "setsid sleep 5 & sleep 1000")
	in, err := p.Input()
	if err != nil {
		t.Fatal(err)
	}
	if err := p.Start(); err != nil {
		t.Fatal(err)
	}
	if _, err := in.Write(make([]byte, 1<<20)); err == nil {
		t.Error("it was written")
	}
	if err := p.Wait(); err == nil || err.Error() != "no answer in 200ms" {
		t.Error(err)
	}
}

// Whatever a program has started ends with it.
func TestRealWholeGroupEnds(t *testing.T) {
	canceled := errors.New("enough")
	for _, c := range []struct {
		name, rest string
		limits     Limits
		err        string
	}{
		{"the program ends", "exit 0", Limits{}, "<nil>"},
		{"the program fails", "exit 3", Limits{}, "exit status 3"},
		{"the context ends", "touch $1.begun; wait", Limits{}, "enough"},
		{"a limit is broken", "wait", Limits{Time: 200 * time.Millisecond}, "no answer in 200ms"},
	} {
		t.Run(c.name, func(t *testing.T) {
			id := filepath.Join(t.TempDir(), "id")
			ctx, cancel := context.WithCancelCause(t.Context())
			defer cancel(nil)
			p := New(ctx, c.limits, "sh", "-c", "sleep 1000 < /dev/null > /dev/null 2>&1 & echo $! > $1; "+c.rest, "sh", id)
			if err := p.Start(); err != nil {
				t.Fatal(err)
			}
			if c.err == "enough" {
				for !exists(id + ".begun") {
					time.Sleep(time.Millisecond)
				}
				cancel(canceled)
			}
			if err := p.Wait(); fmt.Sprint(err) != c.err {
				t.Errorf("%v, want %s", err, c.err)
			}
			child, err := os.ReadFile(id)
			if err != nil {
				t.Fatal(err)
			}
			stat := filepath.Join("/proc", strings.TrimSpace(string(child)), "stat")
			for deadline := time.Now().Add(5 * time.Second); ; time.Sleep(time.Millisecond) {
				// Dead and not yet asked for by its new parent, it is a zombie.
				if b, err := os.ReadFile(stat); err != nil || strings.Contains(string(b), ") Z ") {
					break
				}
				if time.Now().After(deadline) {
					t.Fatal("what it has started is still there")
				}
			}
		})
	}
}

func exists(name string) bool {
	_, err := os.Stat(name)
	return err == nil
}

// The end of what is said is kept, in one line.
func TestRealSaid(t *testing.T) {
	p := script(t.Context(), Limits{}, "seq 100000 >&2; echo ä the end >&2")
	if err := p.Run(); err != nil {
		t.Fatal(err)
	}
	if said := p.Said(); len(said) > 310 || !strings.HasSuffix(said, " 100000 ä the end") || len(p.said) > 2000 {
		t.Errorf("%q, %d bytes", said, len(p.said))
	}
}
