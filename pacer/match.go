package pacer

import (
	"fmt"

	"glidepace/sessions"
)

// Rematch returns s with breath and movement matched as m says and as many
// repetitions a minute as before. For breath-per-rep that is half the breath rate,
// for exhale-on-glide twice; where the hard limits do not allow it, the nearest rate
// that they do. A taper is scaled with it. Given phases become the rate and ratio
// that they mean for the first exercise. It fails where the limits allow no rate.
func Rematch(s *sessions.Session, m sessions.Match) (*sessions.Session, error) {
	if m == s.Breath.Match {
		return s, nil
	}
	was := TempoOf(s, s.Exercises[0], s.Breath.Match)
	wanted := was.Rate * 2
	if m == sessions.BreathPerRep {
		wanted = was.Rate / 2
	}
	other := *s
	other.Breath.Match = m
	if s.Breath.Rate == 0 {
		other.Breath.Ratio = sessions.Ratio{Inhale: was.Inhale, Exhale: was.Exhale}
		other.Breath.Inhale, other.Breath.Exhale = 0, 0
	}
	const step = 0.05 // breaths a minute, finer than anyone can tell
	for off := 0.0; off <= MaxRate; off += step {
		for _, rate := range []float64{wanted + off, wanted - off} {
			if rate <= 0 {
				continue
			}
			other.Breath.Rate = rate
			if t := s.Breath.Taper; t != nil {
				other.Breath.Taper = &sessions.Taper{From: min(max(t.From*rate/was.Rate, MinRate), MaxRate), Breaths: t.Breaths}
			}
			if _, err := New(&other); err == nil {
				return &other, nil
			}
		}
	}
	return nil, fmt.Errorf("%s: at no breath rate are breath and movement of this session inside the limits", m)
}
