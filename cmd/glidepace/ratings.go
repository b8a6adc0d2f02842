package main

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
	tinglingNow = "Tingling or numbness now, 0 none to 10 the worst; one key, Enter skips: "
	painNow     = "Pain now, 0 none to 10 the worst; one key, Enter skips: "
)

// asks reports whether the person is to be asked for ratings.
func (p *paceRun) asks() bool { return !p.noRatings && !p.yes && console.IsTerminal(p.in) }

// rate asks how strong tingling and pain are; what is skipped is not rated.
func (p *paceRun) rate(ctx context.Context) (r sessions.Ratings, err error) {
	var keys ratingKeys
	if r.Tingling, err = p.oneRating(ctx, tinglingNow, &keys); err != nil {
		return r, err
	}
	if r.Pain, err = p.oneRating(ctx, painNow, &keys); err == nil && r.Pain != nil {
		console.DropKeys(ctx, p.in, console.SameKey) // an Enter after it must not begin the session
	}
	return r, err
}

// ratingKeys is what one question for a rating leaves to the next.
type ratingKeys struct {
	rated time.Time // when the last one was given, zero where it was not
	next  byte      // a key that came while a 1 waited for its 0; 0 for none
}

func (k *ratingKeys) read(ctx context.Context, in io.Reader, patience time.Duration) (byte, error) {
	if key := k.next; key != 0 {
		k.next = 0
		return key, nil
	}
	return keyboard.ReadKey(ctx, in, patience)
}

// oneRating asks for one rating. An Enter right after one that was given
// belongs to it, and skips nothing.
func (p *paceRun) oneRating(ctx context.Context, question string, keys *ratingKeys) (*int, error) {
	fmt.Fprint(p.out, question)
	for {
		key, err := keys.read(ctx, p.in, 0)
		if err != nil {
			fmt.Fprintln(p.out)
			return nil, err
		}
		if key == '\n' || key == '\r' {
			if time.Since(keys.rated) < console.SameKey {
				keys.rated = time.Time{}
				continue
			}
			fmt.Fprintln(p.out, "skipped")
			return nil, nil
		}
		n := int(key) - '0'
		if n < 0 || n > 9 {
			continue
		}
		fmt.Fprint(p.out, n)
		if n == 1 {
			switch next, err := keyboard.ReadKey(ctx, p.in, secondDigit); {
			case errors.Is(err, keyboard.ErrNoKey), next == '\n', next == '\r':
			case err != nil:
				fmt.Fprintln(p.out)
				return nil, err
			case next == '0':
				n = 10
				fmt.Fprint(p.out, "0")
			default:
				keys.next = next
			}
		}
		fmt.Fprintln(p.out)
		keys.rated = time.Now()
		return &n, nil
	}
}

// much reports whether a rating is so much higher that it counts as a stop.
func much(before, after *int) bool {
	return before != nil && after != nil && *after-*before >= progress.MuchMore
}

// rose reports whether a rating is higher than before.
func rose(before, after *int) bool { return before != nil && after != nil && *after > *before }
