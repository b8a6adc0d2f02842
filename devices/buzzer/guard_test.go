package buzzer

import (
	"errors"
	"testing"
	"testing/synctest"
	"time"
)

func TestDriverThatNeverComesBack(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		m := &fakeMotor{began: time.Now()}
		g := &guard{motor: m}
		if err := g.drive(1, 600*ms); err != nil {
			t.Fatal(err)
		}
		time.Sleep(time.Minute)
		check(t, m.was(), []felt{{0, 1, 650 * ms}})
		// It may come back all the same.
		if err := g.drive(0.5, 100*ms); err == nil {
			t.Error("on after more than 20 s without an off")
		}
		if err := errors.Join(g.drive(0, 0), g.drive(0.5, 100*ms)); err != nil {
			t.Error(err)
		}
		time.Sleep(100 * ms)
		g.halt()
		halts := m.halts
		time.Sleep(time.Minute)
		if m.halts != halts {
			t.Error("the watchdog goes on after an off")
		}
	})
}

func TestPlayerStuckInItsMotor(t *testing.T) {
	bench(t, 0, func(t *testing.T, m *fakeMotor, b *Buzzer) {
		m.stuck = make(chan struct{})
		b.Play(Turn)
		time.Sleep(10 * time.Second)
		check(t, m.was(), []felt{{0, 1, 120 * ms}})
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
	var pieces []Pulse
	for range 100 {
		pieces = append(pieces, Pulse{Strength: 1, Length: time.Second}) // no gap
	}
	for _, c := range []struct {
		pulses []Pulse
		told   int
	}{{[]Pulse{{Strength: 1, Length: time.Minute}}, 0}, {pieces, 1}} {
		bench(t, 0, func(t *testing.T, m *fakeMotor, b *Buzzer) {
			b.Play(Pattern{Pulses: c.pulses})
			time.Sleep(3 * time.Minute)
			synctest.Wait()
			check(t, m.was(), []felt{{0, 1, 20 * time.Second}})
			if len(m.told) != c.told || c.told > 0 && !errors.Is(m.told[0], errTooLong) {
				t.Errorf("%d pulses: told %v", len(c.pulses), m.told)
			}
		})
	}
}

func TestOffThatFailsIsTriedAgain(t *testing.T) {
	bench(t, 0, func(t *testing.T, m *fakeMotor, b *Buzzer) {
		b.Play(Turn)
		time.Sleep(30 * ms)
		m.fail(errGone)
		time.Sleep(time.Second)
		synctest.Wait()
		if len(m.told) != 1 || !errors.Is(m.told[0], errGone) {
			t.Errorf("told %v", m.told)
		}
		m.fail(nil)
		time.Sleep(50 * ms)
		if was := m.was(); len(was) != 1 || was[0].length < 0 {
			t.Errorf("still on: %v", was)
		}
	})
}
