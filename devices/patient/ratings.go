package patient

import (
	"context"

	"glidepace/sessions"
	"glidepace/sessions/progress"
)

// Rates reports whether the patient is asked for ratings.
func (p *Talk) Rates() bool { return !p.NoRatings && p.NotAsked == nil && p.There() }

// RateBefore asks for the ratings before a session, unless they are not wanted. If
// a rating is high, it asks whether to do the session.
func (p *Talk) RateBefore(ctx context.Context) (sessions.Ratings, error) {
	if !p.Rates() {
		return sessions.Ratings{}, nil
	}
	r, err := p.Rate(ctx)
	if err != nil {
		return r, p.NotBegun("")
	}
	return r, p.strong(ctx, r)
}

// strong asks whether to do the session if a rating is high.
func (p *Talk) strong(ctx context.Context, r sessions.Ratings) error {
	for _, n := range []*int{r.Tingling, r.Pain} {
		if n == nil || *n < progress.StrongToday {
			continue
		}
		if yes, _ := p.confirm(ctx, "That is strong today. Rest, and tell your clinician if it stays. Do the session all the same?"); !yes {
			return p.NotBegun("")
		}
		break
	}
	return nil
}

// much reports whether a rating rose so much that the session counts as stopped.
func much(before, after *int) bool {
	return before != nil && after != nil && *after-*before >= progress.MuchMore
}

// rose reports whether a rating is higher than before.
func rose(before, after *int) bool { return before != nil && after != nil && *after > *before }
