package buzzer

import (
	"errors"
	"testing"
	"testing/synctest"
	"time"
)

func TestDriverThatNeverComesBack(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		m := newFakeMotor()
		g := &guard{motor: m}
		if err := g.drive(1, 600*time.Millisecond); err != nil {
			t.Fatal(err)
		}
		time.Sleep(time.Minute)
		check(t, m.was(), []felt{{0, 1, 650 * time.Millisecond}})
		// It may come back all the same.
		if err := g.drive(0.5, 100*time.Millisecond); err == nil {
			t.Error("on after more than 20 s without an off")
		}
		if err := g.drive(0, 0); err != nil {
			t.Fatal(err)
		}
		if err := g.drive(0.5, 100*time.Millisecond); err != nil {
			t.Error(err)
		}
		time.Sleep(100 * time.Millisecond)
		g.halt()
		halts := m.halts
		time.Sleep(time.Minute)
		if m.halts != halts {
			t.Error("the watchdog goes on after an off")
		}
	})
}

func TestPlayerStuckInItsMotor(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		m := newFakeMotor()
		m.stuck, m.late = make(chan struct{}), true
		b := New(m, 0, nil)
		b.Play(Turn)
		time.Sleep(10 * time.Second)
		check(t, m.was(), []felt{{0, 1, 120 * time.Millisecond}})
		began := time.Now()
		if err := b.Close(); err == nil || time.Since(began) > time.Second {
			t.Errorf("Close: %v after %v; want an error within 1 s", err, time.Since(began))
		}
		close(m.stuck) // it comes back, switches on, and finds that all is over
		synctest.Wait()
		check(t, m.was()[1:], []felt{{11 * time.Second, 1, 0}})
	})
}

func TestNeverOnForLongerThan20s(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		m := newFakeMotor()
		b := New(m, 0, nil)
		defer b.Close()
		b.Play(Pattern{Pulses: []Pulse{{Strength: 1, Length: time.Minute}}})
		time.Sleep(2 * time.Minute)
		check(t, m.was(), []felt{{0, 1, 20 * time.Second}})
	})
}

func TestNeverOnForLongerThan20sInPieces(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		m := newFakeMotor()
		told := 0
		b := New(m, 0, func(err error) {
			if !errors.Is(err, errTooLong) {
				t.Error(err)
			}
			told++
		})
		defer b.Close()
		p := Pattern{}
		for range 100 {
			p.Pulses = append(p.Pulses, Pulse{Strength: 1, Length: time.Second}) // no gap
		}
		b.Play(p)
		time.Sleep(3 * time.Minute)
		synctest.Wait()
		check(t, m.was(), []felt{{0, 1, 20 * time.Second}})
		if told != 1 {
			t.Errorf("told %d times, want once", told)
		}
	})
}

func TestOffThatFailsIsTriedAgain(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		m := newFakeMotor()
		var told []error
		b := New(m, 0, func(err error) { told = append(told, err) })
		defer b.Close()
		b.Play(Turn)
		time.Sleep(30 * time.Millisecond)
		m.fail(errGone)
		time.Sleep(time.Second)
		synctest.Wait()
		if len(told) != 1 || !errors.Is(told[0], errGone) {
			t.Errorf("told %v", told)
		}
		m.fail(nil)
		time.Sleep(50 * time.Millisecond)
		was := m.was()
		if len(was) != 1 || was[0].length < 0 {
			t.Errorf("still on: %v", was)
		}
	})
}
