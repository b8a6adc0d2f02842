package selftest

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"sync"
	"testing"
	"testing/synctest"
	"time"

	"github.com/gopxl/beep/v2"

	"glidepace/devices/box"
	"glidepace/sounds/out"
)

// fakeBox is the parts of a box.
type fakeBox struct {
	mu        sync.Mutex        // of set and closed: a motor that fails is halted again and again
	set       map[string][]bool // what the pins were switched to
	closed    int
	pressed   func(since time.Duration) bool // the button, by time since it was opened
	broken    map[string]error               // by pin, "sound" or "clock"
	system    time.Time
	board     []time.Time
	keepsPins []string // parameters of the kernel that keep a pin
	heard     int      // frames played
	hushed    bool
}

type fakeOutput struct {
	b   *fakeBox
	pin string
}

func (o fakeOutput) Set(on bool) error {
	o.b.mu.Lock()
	defer o.b.mu.Unlock()
	o.b.set[o.pin] = append(o.b.set[o.pin], on)
	return o.b.broken["set "+o.pin]
}

func (o fakeOutput) Close() error {
	o.b.mu.Lock()
	defer o.b.mu.Unlock()
	o.b.closed++
	o.b.set[o.pin] = append(o.b.set[o.pin], false)
	return nil
}

type fakeInput struct {
	b     *fakeBox
	since time.Time
}

func (i fakeInput) Read() (bool, error) { return !i.b.pressed(time.Since(i.since)), nil }
func (i fakeInput) Close() error {
	i.b.mu.Lock()
	defer i.b.mu.Unlock()
	i.b.closed++
	return nil
}

// fakeSound plays nothing, but takes as long as the sound would.
type fakeSound struct {
	out.Silent
	b *fakeBox
}

func (s *fakeSound) Play(stream beep.StreamSeeker) { s.b.heard += stream.Len(); s.Silent.Play(stream) }
func (s *fakeSound) Hush()                         { s.b.hushed = true; s.Silent.Hush() }
func (s *fakeSound) Name() string                  { return "pulse" }

func newFakeBox() *fakeBox {
	return &fakeBox{set: map[string][]bool{}, broken: map[string]error{}, pressed: func(time.Duration) bool { return false },
		system: clockFrom.AddDate(1, 0, 0), board: []time.Time{{}, clockFrom.AddDate(1, 0, 0).Add(time.Second)}}
}

func (b *fakeBox) parts() parts {
	return parts{
		output:    func(pin string) (outputPin, error) { return fakeOutput{b, pin}, b.broken[pin] },
		input:     func(pin string) (inputPin, error) { return fakeInput{b, time.Now()}, b.broken[pin] },
		sound:     func(string) (out.Output, error) { return &fakeSound{b: b}, b.broken["sound"] },
		clocks:    func() (time.Time, []time.Time, error) { return b.system, b.board, b.broken["clock"] },
		keepsPins: func() ([]string, error) { return b.keepsPins, b.broken["kernel"] },
	}
}

func (b *fakeBox) test(t *testing.T) *selfTest {
	f := box.Default
	f.BatteryClock = true
	return &selfTest{box: &f, folder: t.TempDir(), parts: b.parts()}
}

// failures returns the parts that failed, in order, each once.
func failures(found []Finding) string {
	var parts []string
	for _, f := range found {
		part, _, _ := strings.Cut(f.Part, ",")
		if !f.OK && !slices.Contains(parts, part) {
			parts = append(parts, part)
		}
	}
	return strings.Join(parts, " ")
}

func TestUnattended(t *testing.T) {
	for _, c := range []struct {
		name   string
		change func(*fakeBox, *selfTest)
		fails  string
		says   string // in one of the findings
	}{
		{"all well", func(*fakeBox, *selfTest) {}, "", "there is a way out, pulse"},
		{"pin that cannot be taken", func(b *fakeBox, s *selfTest) { b.broken[s.box.Buzzer] = errors.New("busy") }, "buzzer", "busy"},
		{"pin that cannot be switched", func(b *fakeBox, s *selfTest) { b.broken["set "+s.box.Buzzer] = errors.New("gone") }, "buzzer", "gone"},
		{"light that cannot be switched", func(b *fakeBox, s *selfTest) { b.broken["set "+s.box.Light] = errors.New("gone") }, "light", "gone"},
		{"kernel that keeps pins", func(b *fakeBox, _ *selfTest) { b.keepsPins = []string{"rp1 is Y"} }, "pins of a killed program", "the motor may stay on (rp1 is Y)"},
		{"kernel that does not say", func(b *fakeBox, _ *selfTest) { b.broken["kernel"] = errors.New("denied") }, "pins of a killed program", "denied"},
		{"pressed button", func(b *fakeBox, _ *selfTest) { b.pressed = func(time.Duration) bool { return true } }, "button", "reads as pressed"},
		{"no sound", func(b *fakeBox, _ *selfTest) { b.broken["sound"] = errors.New("no sound card") }, "sound", "no sound card"},
		{"sound off", func(b *fakeBox, s *selfTest) { b.broken["sound"] = errors.New("no sound card"); s.box.Sound = "off" }, "", "off, as the box file says"},
		{"no battery clock", func(b *fakeBox, _ *selfTest) { b.board = nil }, "clock", "the board has none"},
		{"no battery clock asked for", func(b *fakeBox, s *selfTest) { b.board = nil; s.box.BatteryClock = false }, "", "none fitted"},
		{"clock without a battery", func(b *fakeBox, _ *selfTest) { b.system = time.Unix(0, 0) }, "clock", "the system says 1970"},
		{"clocks apart", func(b *fakeBox, _ *selfTest) { b.board = []time.Time{b.system.Add(-time.Hour)} }, "clock", "differs by 1h0m0s"},
		{"no folder", func(_ *fakeBox, s *selfTest) { s.box.Diary = "gone/diary.db" }, "diary's folder", "gone"},
		{"all at once", func(b *fakeBox, s *selfTest) {
			for _, part := range []string{s.box.Buzzer, s.box.Light, s.box.Button, "sound", "clock"} {
				b.broken[part] = errors.New("gone")
			}
		}, "buzzer light button sound clock", "gone"},
	} {
		synctest.Test(t, func(t *testing.T) {
			b := newFakeBox()
			s := b.test(t)
			c.change(b, s)
			s.run(t.Context())
			if got := failures(s.found); got != c.fails {
				t.Errorf("%s: %q failed, want %q: %v", c.name, got, c.fails, s.found)
			}
			if !strings.Contains(fmt.Sprint(s.found), c.says) {
				t.Errorf("%s: nothing says %q: %v", c.name, c.says, s.found)
			}
			for _, f := range s.found {
				if !f.OK && f.Cure == "" {
					t.Errorf("%s: no cure for %v", c.name, f)
				}
			}
			b.mu.Lock()
			for pin, set := range b.set {
				if len(set) == 0 || set[len(set)-1] {
					t.Errorf("%s: %s is left on: %v", c.name, pin, set)
				}
			}
			b.mu.Unlock()
			if left, _ := os.ReadDir(s.folder); len(left) != 0 {
				t.Errorf("%s: left in the diary's folder: %v", c.name, left)
			}
			if b.heard != 0 {
				t.Errorf("%s: something sounded with nobody there", c.name)
			}
		})
	}
}

// person answers every question, and keeps what was asked and said.
type person struct {
	asked, told []string
	answer      func(question string) (string, error)
}

// beside runs a test with the person beside the box.
func (p *person) beside(ctx context.Context, s *selfTest) {
	s.person = &Person{
		Say: func(text string) { p.told = append(p.told, text) },
		Ask: func(question string) (string, error) {
			p.asked = append(p.asked, question)
			return p.answer(question)
		},
	}
	s.run(ctx)
}

// pressedFrom is a button that is pressed some time after it was asked for, and
// bounces.
func pressedFrom(from, length time.Duration) func(time.Duration) bool {
	return func(since time.Duration) bool {
		in := since - from
		return in >= 0 && in < length && (in < pollEvery || in >= 2*pollEvery)
	}
}

func TestWithAPerson(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		b := newFakeBox()
		b.pressed = pressedFrom(3*time.Second, 400*time.Millisecond)
		s := b.test(t)
		again, felt := true, 0
		p := &person{answer: func(q string) (string, error) {
			if strings.HasPrefix(q, "Buzz") {
				b.mu.Lock()
				set := b.set[s.box.Buzzer]
				b.mu.Unlock()
				if !slices.Contains(set[felt:], true) || set[len(set)-1] {
					t.Errorf("%s, before it was felt to its end: %v", q, set[felt:])
				}
				felt = len(set)
			}
			if strings.Contains(q, `"exhale"`) && again {
				again = false
				return "r", nil
			}
			return "y", nil
		}}
		p.beside(t.Context(), s)
		if got := failures(s.found); got != "" {
			t.Errorf("%s failed: %v", got, s.found)
		}
		// 9 patterns, one of them twice, 5 rhythms, the sound
		if len(p.asked) != 16 {
			t.Errorf("asked %d questions, want 16: %q", len(p.asked), p.asked)
		}
		if !slices.Contains(p.told, "Pressed.") || !slices.Contains(p.told, "Released.") {
			t.Errorf("told %q, want that the button was pressed and released", p.told)
		}
		if !strings.Contains(fmt.Sprint(s.found), "pressed, and released after 0.4 s") {
			t.Errorf("found %v, want a press of 0.4 s", s.found)
		}
		if b.heard == 0 || !b.hushed {
			t.Errorf("%d frames sounded, silenced: %v", b.heard, b.hushed)
		}
		if b.closed != 3 {
			t.Errorf("%d pins were let go, want 3", b.closed)
		}
	})
}

func TestWhatNobodyConfirms(t *testing.T) {
	for _, c := range []struct {
		answer      func(question string) (string, error)
		fails, says string
	}{
		{func(q string) (string, error) {
			if strings.Contains(q, `"turn"`) || strings.Contains(q, "tone") {
				return "N", nil
			}
			return "y", nil
		}, "buzzer button sound", "not confirmed"},
		{func(string) (string, error) { return "", io.EOF }, "buzzer light button sound", "not answered"},
	} {
		synctest.Test(t, func(t *testing.T) {
			s := newFakeBox().test(t)
			began := time.Now()
			(&person{answer: c.answer}).beside(t.Context(), s)
			if got := failures(s.found); got != c.fails {
				t.Errorf("failed %q, want %q: %v", got, c.fails, s.found)
			}
			for _, says := range []string{c.says, "no press within 10s"} {
				if !strings.Contains(fmt.Sprint(s.found), says) {
					t.Errorf("nothing says %q: %v", says, s.found)
				}
			}
			if d := time.Since(began); d < pressWithin || d > time.Minute {
				t.Errorf("took %v", d)
			}
		})
	}
}

func TestEndedEarly(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		b := newFakeBox()
		s := b.test(t)
		ctx, cancel := context.WithCancel(t.Context())
		(&person{answer: func(string) (string, error) { cancel(); return "", ctx.Err() }}).beside(ctx, s)
		if len(s.found) != 0 {
			t.Errorf("found %v after it was ended", s.found)
		}
		if set := b.set[s.box.Buzzer]; len(set) == 0 || set[len(set)-1] {
			t.Errorf("the buzzer is left on: %v", set)
		}
	})
}

func TestSwitchedOn(t *testing.T) {
	dir := t.TempDir()
	pattern := filepath.Join(dir, "pinctrl_*", "keep")
	if on, err := switchedOn(pattern); err != nil || len(on) != 0 {
		t.Errorf("without a parameter: %q, %v", on, err)
	}
	file := func(driver string) string { return filepath.Join(dir, driver, "keep") }
	for driver, text := range map[string]string{"pinctrl_a": "N\n", "pinctrl_b": "Y\n", "pinctrl_c": "0\n", "pinctrl_d": "1\n", "other": "Y\n"} {
		if err := cmp.Or(os.Mkdir(filepath.Join(dir, driver), 0o755), os.WriteFile(file(driver), []byte(text), 0o644)); err != nil {
			t.Fatal(err)
		}
	}
	want := []string{file("pinctrl_b") + " is Y", file("pinctrl_d") + " is 1"}
	if on, err := switchedOn(pattern); err != nil || !slices.Equal(on, want) {
		t.Errorf("on are %q, %v, want %q", on, err, want)
	}
	if err := os.MkdirAll(file("pinctrl_e"), 0o755); err != nil {
		t.Fatal(err)
	}
	if on, err := switchedOn(pattern); err == nil {
		t.Errorf("one that cannot be read: %q, want an error", on)
	}
}
