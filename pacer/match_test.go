package pacer

import (
	"math"
	"testing"
	"time"

	"glidepace/sessions"
)

// At the same tempo of the movement the patient breathes half as often in
// breath-per-rep: the pacing model.
func TestRematch(t *testing.T) {
	for _, c := range []struct {
		name   string
		change func(*sessions.Session)
		to     sessions.Match
		want   float64
	}{
		{"half as often", func(s *sessions.Session) { s.Breath.Rate = 8 }, sessions.BreathPerRep, 4},
		{"twice as often", func(s *sessions.Session) {
			s.Breath.Match, s.Breath.Rate = sessions.BreathPerRep, 6
		}, sessions.ExhaleOnGlide, 12},
		{"as slow as the limit allows", func(s *sessions.Session) {
			s.Breath.Rate, s.Breath.Ratio = 5, sessions.Ratio{Inhale: 1, Exhale: 1}
		}, sessions.BreathPerRep, 3},
		{"given phases", func(s *sessions.Session) {
			s.Breath = sessions.Breath{Inhale: 3 * time.Second, Exhale: 4 * time.Second, Pause: 500 * time.Millisecond}
		}, sessions.BreathPerRep, 4}, // 7.5 s, 8 a minute
	} {
		s := short(t, c.change).Session()
		before := *s
		other, err := Rematch(s, c.to)
		if err != nil {
			t.Errorf("%s: %v", c.name, err)
			continue
		}
		if math.Abs(other.Breath.Rate-c.want) > 0.051 || other.Breath.Match != c.to {
			t.Errorf("%s: %v at %g a minute, want %g", c.name, other.Breath.Match, other.Breath.Rate, c.want)
		}
		if s.Breath != before.Breath {
			t.Errorf("%s: the session itself was changed", c.name)
		}
		if _, err := New(other); err != nil {
			t.Errorf("%s: outside the limits: %v", c.name, err)
		}
	}
}

func TestRematchScalesTheTaper(t *testing.T) {
	s := short(t, func(s *sessions.Session) {
		s.Breath.Rate, s.LeadIn = 8, 9
		s.Breath.Taper = &sessions.Taper{From: 12, Breaths: 9}
	}).Session()
	other, err := Rematch(s, sessions.BreathPerRep)
	if err != nil {
		t.Fatal(err)
	}
	if *other.Breath.Taper != (sessions.Taper{From: 6, Breaths: 9}) {
		t.Errorf("taper %+v, want from 6 in 9", *other.Breath.Taper)
	}
}
