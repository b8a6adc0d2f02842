package main

import (
	"context"
	"errors"
	"fmt"
	"time"

	"glidepace/devices/screen"
	"glidepace/sessions"
	"glidepace/sessions/progress"
)

// secondDigit is how long a 1 waits for the 0 of a 10.
const secondDigit = time.Second

// sameKey is how long after a rating an Enter still belongs to it.
const sameKey = 1500 * time.Millisecond

// The questions for ratings.
const (
	tinglingNow = "Tingling or numbness now, 0 none to 10 the worst; one key, Enter skips: "
	painNow     = "Pain now, 0 none to 10 the worst; one key, Enter skips: "
)

// asks reports whether the person is to be asked for ratings.
func (p *paceRun) asks() bool { return !p.noRatings && !p.yes && isTerminal(p.in) }

// rate asks how strong tingling and pain are; what is skipped is not rated.
func (p *paceRun) rate(ctx context.Context) (r sessions.Ratings, err error) {
	if r.Tingling, err = p.oneRating(ctx, tinglingNow, time.Time{}); err != nil {
		return r, err
	}
	rated := time.Now()
	if r.Tingling == nil {
		rated = time.Time{}
	}
	if r.Pain, err = p.oneRating(ctx, painNow, rated); err == nil && r.Pain != nil {
		p.dropKeys(ctx, strayKeys) // an Enter after it must not begin the session
	}
	return r, err
}

// oneRating asks for one rating. One that was given just before may be followed
// by an Enter, which skips nothing.
func (p *paceRun) oneRating(ctx context.Context, question string, before time.Time) (*int, error) {
	fmt.Fprint(p.out, question)
	for {
		key, err := screen.ReadKey(ctx, p.in, 0)
		if err != nil {
			fmt.Fprintln(p.out)
			return nil, err
		}
		n := int(key) - '0'
		switch {
		case (key == '\n' || key == '\r') && time.Since(before) < sameKey:
			before = time.Time{}
		case key == '\n' || key == '\r':
			fmt.Fprintln(p.out, "skipped")
			return nil, nil
		case n < 0 || n > 9:
			continue
		case n == 1:
			fmt.Fprint(p.out, "1")
			next, err := screen.ReadKey(ctx, p.in, secondDigit)
			if err != nil && !errors.Is(err, screen.ErrNoKey) {
				fmt.Fprintln(p.out)
				return nil, err
			}
			if next == '0' {
				n = 10
				fmt.Fprint(p.out, "0")
			}
			fmt.Fprintln(p.out)
		default:
			fmt.Fprintln(p.out, n)
		}
		return &n, nil
	}
}

// much reports whether a rating is so much higher that it counts as a stop.
func much(before, after *int) bool {
	return before != nil && after != nil && *after-*before >= progress.MuchMore
}

// rose reports whether a rating is higher than before.
func rose(before, after *int) bool { return before != nil && after != nil && *after > *before }
