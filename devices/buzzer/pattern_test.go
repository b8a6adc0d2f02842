package buzzer

import (
	"slices"
	"testing"
	"testing/synctest"
	"time"
)

// The edges of each pattern on a pin, in milliseconds: on, off, on, off …
func TestPatternsToTheMillisecond(t *testing.T) {
	soft := func(at ...int) []int { // 110 ms: a kick of 30, then 10 off and 10 on
		var all []int
		for _, a := range at {
			all = append(all, a, a+30, a+40, a+50, a+60, a+70, a+80, a+90, a+100, a+110)
		}
		return all
	}
	softLong := func(a int) (all []int) { // 210 ms
		all = append(all, a, a+30)
		for b := a + 40; b <= a+200; b += 20 {
			all = append(all, b, b+10)
		}
		return all
	}
	join := func(parts ...[]int) (all []int) {
		for _, p := range parts {
			all = append(all, p...)
		}
		return all
	}
	for _, c := range []struct {
		p    Pattern
		want []int
	}{
		{Inhale, join(soft(0), []int{220, 370})},
		{Exhale, join([]int{0, 150}, soft(260))},
		// After the strong half no kick, 10 on and 10 off.
		{OutExhale, []int{0, 160, 170, 180, 190, 200, 210, 220, 230, 240, 250, 260}},
		{OutInhale, []int{0, 30, 40, 50, 60, 70, 80, 90, 100, 110, 120, 270}},
		{Turn, []int{0, 70, 180, 250}},
		{Rest, soft(0, 400, 800)},
		{Done, join([]int{0, 210, 410, 620}, softLong(820), softLong(1230))},
		{Stop, []int{0, 600}},
		{CannotStart, []int{0, 70, 180, 250, 360, 430, 540, 610, 720, 790}},
	} {
		t.Run(c.p.Name, func(t *testing.T) {
			synctest.Test(t, func(t *testing.T) {
				pin := newFakePin()
				b := New(NewPinMotor(pin, DefaultLead), DefaultLead, nil)
				defer b.Close()
				b.Play(c.p)
				time.Sleep(5 * time.Second)
				var want []edge
				for i, at := range c.want {
					want = append(want, edge{time.Duration(at) * ms, i%2 == 0})
				}
				if got := pin.was(); !slices.Equal(got, want) {
					t.Errorf("%v, want %v", got, want)
				}
				if last := want[len(want)-1].at; c.p.Length() != last {
					t.Errorf("length %v, want %v", c.p.Length(), last)
				}
			})
		})
	}
}

// told returns how many pulses of a pattern are told apart: those without a gap
// are felt as one.
func told(p Pattern) (n int) {
	for i := range p.Pulses {
		if i == 0 || p.Pulses[i-1].Gap > 0 {
			n++
		}
	}
	return n
}

// direction is how strength goes from the first pulse to the last.
func direction(p Pattern) float64 {
	if len(p.Pulses) == 0 {
		return 0
	}
	return p.Pulses[len(p.Pulses)-1].Strength - p.Pulses[0].Strength
}

// shape is what can be told of a pattern by touch alone.
type shape struct {
	pulses    int
	direction float64
	rhythm    time.Duration // longest gap, in steps a person feels
	long      bool          // some pulse is long
}

func TestPatternsAreToldapart(t *testing.T) {
	seen := make(map[shape]string)
	for _, p := range Patterns() {
		s := shape{pulses: told(p), direction: direction(p)}
		for i, pulse := range p.Pulses {
			if pulse.Strength <= 0 || pulse.Strength > 1 {
				t.Errorf("%s: strength %g", p.Name, pulse.Strength)
			}
			s.long = s.long || pulse.Length >= 200*ms
			if i+1 < len(p.Pulses) && pulse.Gap > 0 {
				// Pulses are felt as separate 80–90 ms apart or more
				// (Jurado et al. 2021, doi 10.1163/22134468-bja10043).
				if pulse.Gap < 90*ms {
					t.Errorf("%s: pulse %d is %v before the next", p.Name, i+1, pulse.Gap)
				}
				s.rhythm = max(s.rhythm, pulse.Gap.Truncate(100*ms))
			}
		}
		if other, ok := seen[s]; ok {
			t.Errorf("%s feels like %s: %+v", p.Name, other, s)
		}
		seen[s] = p.Name
		if p.Length() > 1500*ms {
			t.Errorf("%s lasts %v", p.Name, p.Length())
		}
		if p.Feel == "" {
			t.Errorf("%s has no words", p.Name)
		}
	}
}

// The shortest that pacer allows: an inhale or exhale of 0.5 s, 1 s for a
// movement. What belongs to them has to fit with room to tell it from the next.
func TestPatternsFitTheShortestSteps(t *testing.T) {
	for _, c := range []struct {
		p    Pattern
		step time.Duration
	}{
		{Inhale, 500 * ms}, {Exhale, 500 * ms},
		{OutExhale, time.Second}, {OutInhale, time.Second}, {Turn, time.Second},
	} {
		if c.p.Length()+apart > c.step {
			t.Errorf("%s of %v does not fit into %v", c.p.Name, c.p.Length(), c.step)
		}
	}
}
