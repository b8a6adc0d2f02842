// Package counter takes down the inhales of a person, who presses a key at each, or
// reads their times. Package rate does the sums.
package counter

import (
	"context"
	"fmt"
	"io"
	"strings"
	"time"

	"glidepace/cmd/glidepace/internal/console"
	"glidepace/devices/keyboard"
	"glidepace/pacer/rate"
	"glidepace/sessions"
)

// Keys counts the presses of keys on in, and shows the rate on out as it builds
// up. The error is context.Canceled if the count was broken off, and a
// *rate.TooFewPressesError if there were too few presses.
func Keys(ctx context.Context, in io.Reader, out io.Writer) (rate.CountResult, error) {
	presses := make(chan press)
	over := make(chan struct{})
	keys, err := keyboard.Listen(in, func(keys []byte, _ error) {
		select {
		case presses <- press{time.Now(), string(keys)}:
		case <-over:
		}
	})
	if err != nil {
		return rate.CountResult{}, err
	}
	r, err := countPresses(ctx, presses, out)
	close(over)
	if failed := keys.Close(); err == nil {
		err = failed
	}
	return r, err
}

// press is one key; "" when no more come.
type press struct {
	at  time.Time
	key string
}

func countPresses(ctx context.Context, presses <-chan press, out io.Writer) (rate.CountResult, error) {
	begin, end := "", "\n"
	redraw := console.Redraws(out)
	if redraw {
		begin, end = "\r", "\x1b[K" // one line, written over; cleared to its end
	}
	fmt.Fprintln(out, "Press a key at each inhale: space, Enter, any. q ends the count.")
	if redraw {
		defer fmt.Fprintln(out)
	}
	var first time.Time
	var times []float64
	var ends <-chan time.Time
	for {
		select {
		case <-ctx.Done():
			return rate.CountResult{}, context.Canceled
		case <-ends:
			return rate.Count(times)
		case p := <-presses:
			switch {
			case p.key == "":
				return rate.Count(times)
			case p.key[0] == '\x1b': // an arrow or function key, whatever letters it is made of
			case strings.Contains(p.key, "\x03"): // Ctrl-C, where it is a key
				return rate.CountResult{}, context.Canceled
			case strings.ContainsAny(p.key, "qQ"):
				return rate.Count(times)
			}
			if len(times) == 0 {
				first = p.at
			}
			at := p.at.Sub(first).Seconds()
			if len(times) > 0 && at > rate.CountEnds(times) {
				return rate.Count(times)
			}
			times = append(times, at)
			r, _ := rate.Count(times)
			fmt.Fprint(out, begin, soFar(r), end)
			until := rate.CountEnds(times)
			if until <= at {
				return rate.Count(times)
			}
			ends = time.After(time.Until(first.Add(time.Duration(until * float64(time.Second)))))
		}
	}
}

// soFar writes what the presses so far add up to, in a line of 40 columns.
func soFar(r rate.CountResult) string {
	text := sessions.Count(r.Presses, "press")
	switch {
	case r.RateHigh > 0:
		text += fmt.Sprintf(", %.1f/min (%.1f to %.1f)", r.Rate, r.RateLow, r.RateHigh)
	case r.Rate > 0:
		text += fmt.Sprintf(", %.1f/min so far", r.Rate)
	}
	return text
}
