package counter

import (
	"bufio"
	"context"
	"io"
	"math"
	"strconv"
	"strings"
	"time"

	"glidepace/cmd/glidepace/internal/console"
	"glidepace/pacer/rate"
)

// mostTimes is how many times one count may have. A key that repeats all through
// 120 s makes fewer.
const mostTimes = 5000

// Times counts the breaths from the times of inhales on in. It stops counting when
// Keys would have stopped. The errors are those of Keys.
func Times(ctx context.Context, in io.Reader, _ io.Writer) (rate.CountResult, error) {
	type result struct {
		r   rate.CountResult
		err error
	}
	got := make(chan result, 1)
	go func() {
		times, err := readTimes(in)
		if err != nil {
			got <- result{err: err}
			return
		}
		r, err := rate.Count(times)
		got <- result{r, err}
	}()
	select {
	case g := <-got:
		return g.r, g.err
	case <-ctx.Done():
		return rate.CountResult{}, context.Canceled
	}
}

// readTimes reads times, one a line, until a count of them ends. It returns
// seconds; for dates and times, the seconds since the first.
func readTimes(in io.Reader) ([]float64, error) {
	var times []float64
	var zero time.Time // the first, where they are dates and times
	lines := bufio.NewScanner(in)
	n := 0
	wrong := func(format string, args ...any) error {
		return console.Usagef("standard input, line %d: "+format, append([]any{n}, args...)...)
	}
	for lines.Scan() {
		n++
		text := strings.TrimSpace(lines.Text())
		if text == "" {
			continue
		}
		v, err := strconv.ParseFloat(text, 64)
		date := err != nil
		if date {
			var t time.Time
			if t, err = time.Parse(time.RFC3339, text); err == nil && len(times) == 0 {
				zero = t
			}
			v = t.Sub(zero).Seconds()
		}
		switch {
		case err != nil || math.IsNaN(v) || math.IsInf(v, 0):
			return nil, wrong("%.40q is neither seconds (12.5) nor a date and time (2026-01-31T08:00:12.5Z)", text)
		case date == zero.IsZero() && len(times) > 0:
			return nil, wrong("%q: either all times are seconds or all are dates and times", text)
		case len(times) > 0 && v < times[len(times)-1]:
			return nil, wrong("%q is before the line above it: sort the times", text)
		case len(times) == mostTimes:
			return nil, wrong("more than %d times in one count: write one for each inhale", mostTimes)
		}
		if len(times) > 0 && v > rate.CountEnds(times) {
			return times, nil
		}
		times = append(times, v)
		if rate.CountEnds(times) <= v {
			return times, nil
		}
	}
	if err := lines.Err(); err != nil {
		n++
		return nil, wrong("%w", err)
	}
	return times, nil
}
