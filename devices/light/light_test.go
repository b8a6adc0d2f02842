package light

import (
	"errors"
	"fmt"
	"slices"
	"strings"
	"sync"
	"testing"
	"testing/synctest"
	"time"

	"pgregory.net/rapid"
)

// pin keeps every call, as "+" or "-" and the milliseconds since it was made.
type pin struct {
	mu    sync.Mutex
	began time.Time
	calls []string
	on    []time.Duration // when it was turned on
	lit   bool
	err   error
}

func newPin() *pin { return &pin{began: time.Now()} }

func (p *pin) Set(on bool) error {
	p.mu.Lock()
	defer p.mu.Unlock()
	at := time.Since(p.began)
	p.calls = append(p.calls, fmt.Sprintf("%s%d", map[bool]string{true: "+", false: "-"}[on], at.Milliseconds()))
	if on && !p.lit {
		p.on = append(p.on, at)
	}
	p.lit = on
	return p.err
}

func (p *pin) log() string {
	p.mu.Lock()
	defer p.mu.Unlock()
	return strings.Join(p.calls, " ")
}

// show is a state and for how long.
type show struct {
	state  State
	length time.Duration
}

func TestLight(t *testing.T) {
	for name, c := range map[string]struct {
		shows []show
		want  string
	}{
		"off":     {[]show{{Off, 6999 * ms}}, "-0 -6999"},
		"ready":   {[]show{{Ready, 6999 * ms}}, "-0 +0 -2500 +3000 -5500 +6000 -6999"},
		"running": {[]show{{Running, 6999 * ms}}, "-0 +0 -100 +3000 -3100 +6000 -6100 -6999"},
		"stopped": {[]show{{Stopped, 6999 * ms}}, "-0 +0 -500 +1000 -1500 +2000 -2500 +3000 -3500 +4000 -4500 +5000 -5500 +6000 -6500 -6999"},
		"asking": {[]show{{Asking, 6999 * ms}}, "-0 +0 -200 +500 -700 +2000 -2200 +2500 -2700 +4000 -4200 +4500 -4700 " +
			"+6000 -6200 +6500 -6700 -6999"},
		"trouble": {[]show{{Trouble, 6999 * ms}}, "-0 +0 -200 +400 -600 +800 -1000 +3000 -3200 +3400 -3600 +3800 -4000 " +
			"+6000 -6200 +6400 -6600 +6800 -6999"},
		"at once from dark":                 {[]show{{Running, 700 * ms}, {Stopped, 600 * ms}}, "-0 +0 -100 +700 -1200 -1300"},
		"at once from lit, on with no gap":  {[]show{{Ready, 700 * ms}, {Asking, 600 * ms}}, "-0 +0 -900 +1200 -1300"},
		"off at once":                       {[]show{{Ready, 700 * ms}, {Off, 5000 * ms}}, "-0 +0 -700 -5700"},
		"a third of a second after a flash": {[]show{{Running, 150 * ms}, {Asking, 600 * ms}}, "-0 +0 -100 +334 -534 -750"},
		"the same again":                    {[]show{{Stopped, 300 * ms}, {Stopped, 300 * ms}}, "-0 +0 -500 -600"},
	} {
		t.Run(name, func(t *testing.T) {
			synctest.Test(t, func(t *testing.T) {
				p := newPin()
				l := New(p, nil)
				synctest.Wait()
				for _, s := range c.shows {
					l.Set(s.state)
					time.Sleep(s.length)
				}
				l.Close()
				l.Close()
				if got := p.log(); got != c.want {
					t.Errorf("got  %s\nwant %s", got, c.want)
				}
			})
		})
	}
}

// A pin that fails is reported once, tried again at each edge, and reported
// anew when it has worked in between.
func TestFailing(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		p := newPin()
		broken := errors.New("broken")
		reports := 0
		l := New(p, func(err error) {
			if err != broken {
				t.Error(err)
			}
			reports++
		})
		breaks := func(err error) {
			p.mu.Lock()
			defer p.mu.Unlock()
			p.err = err
		}
		l.Set(Stopped)
		time.Sleep(100 * ms)
		breaks(broken)
		time.Sleep(2 * time.Second)
		breaks(nil)
		time.Sleep(time.Second)
		breaks(broken)
		time.Sleep(2 * time.Second)
		l.Close()
		if want := "-0 +0 -500 +1000 -1500 +2000 -2500 +3000 -3500 +4000 -4500 +5000 -5100"; p.log() != want {
			t.Errorf("got  %s\nwant %s", p.log(), want)
		}
		if reports != 2 {
			t.Errorf("%d reports, want 2", reports)
		}
	})
}

// However states follow each other, no second has more than three flashes
// (WCAG 2.2, success criterion 2.3.1, "Three Flashes or Below Threshold").
func TestThreeFlashes(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		shows := rapid.SliceOfN(rapid.Custom(func(rt *rapid.T) show {
			return show{State(rapid.IntRange(0, int(Trouble)).Draw(rt, "state")),
				time.Duration(rapid.IntRange(0, 1500).Draw(rt, "length")) * ms}
		}), 1, 20).Draw(rt, "shows")
		var p *pin
		synctest.Test(t, func(*testing.T) {
			p = newPin()
			l := New(p, nil)
			for _, s := range shows {
				l.Set(s.state)
				time.Sleep(s.length)
			}
			l.Close()
		})
		for i := 3; i < len(p.on); i++ {
			if p.on[i]-p.on[i-3] <= time.Second {
				rt.Fatalf("four flashes in a second: %v", p.on[i-3:i+1])
			}
		}
	})
}

// Any 4 s of one state differ from any 4 s of another by at least 0.4 s of
// light, wherever in its rhythm each is first seen.
func TestTellApart(t *testing.T) {
	const look, grid = 4 * time.Second, 50 * ms
	seen := func(s State, from time.Duration) (lit []bool) {
		for d := from; d < from+look; d += grid {
			on, _ := states[s].rhythm.at(d)
			lit = append(lit, on)
		}
		return lit
	}
	for a := Off; a <= Trouble; a++ {
		for b := a + 1; b <= Trouble; b++ {
			least := look
			for shiftA := time.Duration(0); shiftA < 3*time.Second; shiftA += grid {
				first := seen(a, shiftA)
				for shiftB := time.Duration(0); shiftB < 3*time.Second; shiftB += grid {
					differ := time.Duration(0)
					for i, on := range seen(b, shiftB) {
						if on != first[i] {
							differ += grid
						}
					}
					least = min(least, differ)
				}
			}
			if least < 400*ms && !(a == Off && b == Running) { // a blink in the dark is a difference of its own
				t.Errorf("%v and %v differ by %v only", a, b, least)
			}
		}
	}
}

// No state looks steady for longer than 3 s, so that a light that does says
// that the program does not run.
func TestNeverSteady(t *testing.T) {
	for s := Ready; s <= Trouble; s++ {
		if longest := slices.Max(states[s].rhythm); longest > 3*time.Second {
			t.Errorf("%v is steady for %v", s, longest)
		}
		if s.Looks() == "" {
			t.Errorf("%v has no words", s)
		}
	}
}
