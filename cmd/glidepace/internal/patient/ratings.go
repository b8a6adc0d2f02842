package patient

import (
	"context"
	"errors"
	"fmt"
	"io"
	"time"

	"glidepace/cmd/glidepace/internal/console"
	"glidepace/devices/keyboard"
	"glidepace/sessions"
	"glidepace/sessions/progress"
)

// secondDigit is how long a 1 waits for the 0 of a 10.
const secondDigit = time.Second

// The questions for ratings.
const (
	tinglingNow = "Tingling or numbness now? Press 0 (none) to 10 (worst), or Enter to skip: "
	painNow     = "Pain now? Press 0 (none) to 10 (worst), or Enter to skip: "
)

// asks reports whether the patient is asked for ratings.
func (p *Talk) asks() bool { return !p.NoRatings && !p.Yes && console.IsTerminal(p.In) }

// RateBefore asks for the ratings before a session, unless they are not wanted. If
// a rating is high, it asks whether to do the session.
func (p *Talk) RateBefore(ctx context.Context) (sessions.Ratings, error) {
	if !p.asks() {
		return sessions.Ratings{}, nil
	}
	r, err := p.rate(ctx)
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

// rate asks how strong tingling and pain are. Either may be skipped.
func (p *Talk) rate(ctx context.Context) (r sessions.Ratings, err error) {
	var keys ratingKeys
	if r.Tingling, err = p.oneRating(ctx, tinglingNow, &keys); err != nil {
		return r, err
	}
	if r.Pain, err = p.oneRating(ctx, painNow, &keys); err == nil && r.Pain != nil {
		console.DropKeys(ctx, p.In, console.SameKey) // an Enter after it must not begin the session
	}
	return r, err
}

// ratingKeys is what the next question must know of the keys before it.
type ratingKeys struct {
	rated time.Time // when the last rating was given; zero if it was skipped
	next  byte      // a key that came while a 1 waited for its 0; 0 for none
}

func (k *ratingKeys) read(ctx context.Context, in io.Reader, patience time.Duration) (byte, error) {
	if key := k.next; key != 0 {
		k.next = 0
		return key, nil
	}
	return keyboard.ReadKey(ctx, in, patience)
}

// oneRating asks for one rating; nil if it is skipped. An Enter right after the
// rating before belongs to that one, and skips nothing.
func (p *Talk) oneRating(ctx context.Context, question string, keys *ratingKeys) (*int, error) {
	fmt.Fprint(p.Out, question)
	for {
		key, err := keys.read(ctx, p.In, 0)
		if err != nil {
			fmt.Fprintln(p.Out)
			return nil, err
		}
		if key == '\n' || key == '\r' {
			if time.Since(keys.rated) < console.SameKey {
				keys.rated = time.Time{}
				continue
			}
			fmt.Fprintln(p.Out, "skipped")
			return nil, nil
		}
		n := int(key) - '0'
		if n < 0 || n > 9 {
			continue
		}
		fmt.Fprint(p.Out, n)
		if n == 1 {
			switch next, err := keyboard.ReadKey(ctx, p.In, secondDigit); {
			case errors.Is(err, keyboard.ErrNoKey), next == '\n', next == '\r':
			case err != nil:
				fmt.Fprintln(p.Out)
				return nil, err
			case next == '0':
				n = 10
				fmt.Fprint(p.Out, "0")
			default:
				keys.next = next
			}
		}
		fmt.Fprintln(p.Out)
		keys.rated = time.Now()
		return &n, nil
	}
}

// much reports whether a rating rose so much that the session counts as stopped.
func much(before, after *int) bool {
	return before != nil && after != nil && *after-*before >= progress.MuchMore
}

// rose reports whether a rating is higher than before.
func rose(before, after *int) bool { return before != nil && after != nil && *after > *before }
