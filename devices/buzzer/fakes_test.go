package buzzer

import (
	"bytes"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"sync"
	"testing"
	"testing/synctest"
	"time"

	"glidepace/pacer"
	"glidepace/sessions"
)

// felt is one stretch in which a motor ran.
type felt struct {
	at       time.Duration // from the making of the motor
	strength float64
	length   time.Duration // -1 while it runs
}

func (f felt) String() string { return fmt.Sprintf("%v %g for %v", f.at, f.strength, f.length) }

// fakeMotor keeps what it was driven to.
type fakeMotor struct {
	mu     sync.Mutex
	began  time.Time
	runs   []felt
	halts  int
	failed error
	stuck  chan struct{} // when set, Drive switches on, waits for it and switches on again
	told   []error       // what the buzzer said of it
}

func (m *fakeMotor) to(strength float64) {
	at := time.Since(m.began)
	if n := len(m.runs); n > 0 && m.runs[n-1].length < 0 {
		if m.runs[n-1].strength == strength {
			return
		}
		m.runs[n-1].length = at - m.runs[n-1].at
	}
	if strength > 0 {
		m.runs = append(m.runs, felt{at, strength, -1})
	}
}

func (m *fakeMotor) Drive(strength float64) error {
	m.mu.Lock()
	if m.failed != nil {
		defer m.mu.Unlock()
		return m.failed
	}
	m.to(strength)
	m.mu.Unlock()
	if m.stuck != nil {
		<-m.stuck
		m.mu.Lock()
		defer m.mu.Unlock()
		m.to(strength)
	}
	return nil
}

func (m *fakeMotor) Halt() error {
	m.mu.Lock()
	defer m.mu.Unlock()
	m.halts++
	if m.failed == nil {
		m.to(0)
	}
	return m.failed
}

func (m *fakeMotor) was() []felt {
	m.mu.Lock()
	defer m.mu.Unlock()
	return slices.Clone(m.runs)
}

func (m *fakeMotor) fail(err error) {
	m.mu.Lock()
	defer m.mu.Unlock()
	m.failed = err
}

var errGone = errors.New("gone")

// bench runs do with a buzzer on a motor.
func bench(t *testing.T, lead time.Duration, do func(t *testing.T, m *fakeMotor, b *Buzzer)) {
	t.Helper()
	synctest.Test(t, func(t *testing.T) {
		m := &fakeMotor{began: time.Now()}
		b := New(m, lead, func(err error) { m.told = append(m.told, err) })
		defer b.Close()
		do(t, m, b)
	})
}

// edge is a change of a pin.
type edge struct {
	at time.Duration // from the making of the pin
	on bool
}

// fakePin keeps its changes.
type fakePin struct {
	mu    sync.Mutex
	began time.Time
	edges []edge
	fails bool
}

func newFakePin() *fakePin { return &fakePin{began: time.Now()} }

func (p *fakePin) Set(on bool) error {
	p.mu.Lock()
	defer p.mu.Unlock()
	if p.fails {
		return errGone
	}
	if n := len(p.edges); n > 0 && p.edges[n-1].on != on || n == 0 && on {
		p.edges = append(p.edges, edge{time.Since(p.began), on})
	}
	return nil
}

func (p *fakePin) was() []edge {
	p.mu.Lock()
	defer p.mu.Unlock()
	return slices.Clone(p.edges)
}

// fakeSound is heard late.
type fakeSound struct {
	late  time.Duration
	began time.Time
}

func (s *fakeSound) Play(*pacer.Timeline)            { s.began = time.Now() }
func (s *fakeSound) Hush()                           {}
func (s *fakeSound) Heard(d time.Duration) time.Time { return s.began.Add(s.late + d) }

func parse(t *testing.T, text string) *pacer.Timeline {
	t.Helper()
	s, err := sessions.Parse("test.yaml", strings.NewReader("glidepace: 1\ntitle: t\nposture: none\n"+text))
	if err != nil {
		t.Fatal(err)
	}
	return lay(t, s)
}

func lay(t *testing.T, s *sessions.Session) *pacer.Timeline {
	t.Helper()
	tl, problems := pacer.New(s)
	if problems != nil {
		t.Fatal(problems)
	}
	return tl
}

// examples are the session files of testdata that can be paced.
func examples(t *testing.T) map[string]*pacer.Timeline {
	t.Helper()
	paths, err := filepath.Glob("../../testdata/sessions/*.yaml")
	if err != nil || len(paths) == 0 {
		t.Fatal("no session files", err)
	}
	all := make(map[string]*pacer.Timeline)
	for _, path := range paths {
		text, err := os.ReadFile(path)
		if err != nil {
			t.Fatal(err)
		}
		s, err := sessions.Parse(path, bytes.NewReader(text))
		if err != nil {
			t.Fatal(err)
		}
		all[filepath.Base(path)] = lay(t, s)
	}
	return all
}

// cued is a pattern and when its first pulse begins.
type cued struct {
	at time.Duration
	p  Pattern
}

// pulses returns what a motor does for these patterns.
func pulses(list []cued) []felt {
	var all []felt
	for _, c := range list {
		at := c.at
		for _, p := range c.p.Pulses {
			all = append(all, felt{at, p.Strength, p.Length})
			at += p.Length + p.Gap
		}
	}
	return all
}

func check(t *testing.T, got, want []felt) {
	t.Helper()
	for i := range min(len(got), len(want)) {
		if d := (got[i].at - want[i].at).Abs(); d > time.Microsecond || got[i].strength != want[i].strength ||
			(got[i].length-want[i].length).Abs() > time.Microsecond {
			t.Fatalf("pulse %d: %v, want %v", i+1, got[i], want[i])
		}
	}
	if len(got) != len(want) {
		t.Fatalf("%d pulses, want %d\n%v\n%v", len(got), len(want), got, want)
	}
}
