package buzzer

import (
	"errors"
	"math"
	"slices"
	"testing"
	"testing/synctest"
	"time"
)

func TestBursts(t *testing.T) {
	for _, s := range []float64{0.05, 0.25, 0.5, 0.75, 0.9} {
		on, off := bursts(s)
		if got := float64(on) / float64(on+off); math.Abs(got-s) > 1e-6 {
			t.Errorf("strength %g: duty %g", s, got)
		}
		if min(on, off) < 10*ms-1 {
			t.Errorf("strength %g: %v on, %v off; want 10 ms or more", s, on, off)
		}
	}
}

func TestPinMotorSwitchesOffAtOnce(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		pin := newFakePin()
		m := NewPinMotor(pin, 30*ms)
		for _, off := range []func() error{m.Halt, func() error { return m.Drive(0) }, func() error { return m.Drive(math.NaN()) }} {
			if err := m.Drive(0.5); err != nil {
				t.Fatal(err)
			}
			time.Sleep(43 * ms) // in a burst
			if err := off(); err != nil {
				t.Fatal(err)
			}
			n := len(pin.was())
			if pin.was()[n-1].on {
				t.Error("still on")
			}
			time.Sleep(time.Second)
			if len(pin.was()) != n {
				t.Error("it went on again")
			}
		}
	})
}

func TestPinMotorChangesStrengthWithoutAGap(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		pin := newFakePin()
		m := NewPinMotor(pin, 30*ms)
		m.Drive(0.5) // on to 30, off to 40, on
		time.Sleep(45 * ms)
		m.Drive(1)
		time.Sleep(100 * ms)
		m.Drive(0.5) // it runs: no kick; on to 155
		time.Sleep(12 * ms)
		m.Halt()
		want := []edge{{0, true}, {30 * ms, false}, {40 * ms, true}, {155 * ms, false}}
		got := pin.was()
		if !slices.Equal(got, want) {
			t.Errorf("%v, want %v", got, want)
		}
	})
}

func TestPinMotorAtThreeQuarters(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		pin := newFakePin()
		b := New(NewPinMotor(pin, 20*ms), 0, nil)
		defer b.Close()
		b.Play(Pattern{Pulses: []Pulse{{Strength: 0.75, Length: 100 * ms}}})
		time.Sleep(time.Second)
		want := []edge{{0, true}, {30 * ms, false}, {40 * ms, true}, {70 * ms, false}, {80 * ms, true}, {100 * ms, false}}
		if got := pin.was(); !slices.Equal(got, want) {
			t.Errorf("pin: %v, want %v", got, want)
		}
	})
}

func TestPinMotorReportsItsPin(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		pin := newFakePin()
		pin.fails = true
		m := NewPinMotor(pin, 0)
		if err := m.Drive(0.5); !errors.Is(err, errGone) {
			t.Error(err)
		}
		if err := m.Halt(); !errors.Is(err, errGone) {
			t.Error(err)
		}
		time.Sleep(time.Second)
		pin.fails = false
		if err := m.Drive(1); err != nil || len(pin.was()) != 1 {
			t.Error("it does not come back:", err, pin.was())
		}
		m.Halt()
	})
}
