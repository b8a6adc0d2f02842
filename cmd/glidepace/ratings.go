package main

import (
	"context"
	"errors"
	"fmt"
	"time"

	"glidepace/devices/screen"
	"glidepace/sessions"
)

// secondDigit is how long a 1 waits for the 0 of a 10.
const secondDigit = 400 * time.Millisecond

// The questions for ratings.
const (
	tinglingNow = "Tingling or numbness now, 0 none to 10 the worst; Enter skips: "
	painNow     = "Pain now, 0 none to 10 the worst; Enter skips: "
)

// asks reports whether the person is to be asked for ratings.
func (p *paceRun) asks() bool { return !p.noRatings && !p.yes && isTerminal(p.in) }

// rate asks how strong tingling and pain are; what is skipped is not rated.
func (p *paceRun) rate(ctx context.Context) (r sessions.Ratings, err error) {
	if r.Tingling, err = p.oneRating(ctx, tinglingNow); err != nil {
		return r, err
	}
	r.Pain, err = p.oneRating(ctx, painNow)
	return r, err
}

func (p *paceRun) oneRating(ctx context.Context, question string) (*int, error) {
	fmt.Fprint(p.out, question)
	for {
		key, err := screen.ReadKey(ctx, p.in, 0)
		if err != nil {
			fmt.Fprintln(p.out)
			return nil, err
		}
		n := int(key) - '0'
		switch {
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

// rose reports whether a rating is higher than before.
func rose(before, after *int) bool { return before != nil && after != nil && *after > *before }
