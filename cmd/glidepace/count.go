package main

import (
	"bufio"
	"context"
	"errors"
	"fmt"
	"io"
	"math"
	"strconv"
	"strings"
	"time"

	"github.com/spf13/cobra"

	"glidepace/cmd/glidepace/internal/console"
	"glidepace/devices/keyboard"
	"glidepace/pacer"
	"glidepace/pacer/rate"
	"glidepace/sessions"
)

// mostStamps bounds what is read before a count ends: a key that repeats all
// through 120 s makes fewer.
const mostStamps = 5000

func countCommand() *cobra.Command {
	var form string
	cmd := &cobra.Command{
		Use:   "count",
		Short: "Count a person's own breath rate from key presses",
		Long: `Counts how fast a person breathes. On a terminal the person, or better somebody
who watches unnoticed, presses a key at each inhale; q ends. Otherwise the times
of the inhales are read, one a line, in seconds (12.5) or as a date and time
(2026-01-31T08:00:12.5Z).

The rate is that of the median interval, with 95 % bounds; a doubled or missed
press is known by its ratio to the median and corrected. From the 7th press on
the count ends as soon as the bounds are within 10 % of the median; else at 60 s
or the 7th press, whichever is later. Fewer than 7 in 120 s give no rate.

Counting is no diagnosis.`,
		Example: `  glidepace count
  glidepace count --format json < inhales.txt`,
		Args: cobra.NoArgs,
		RunE: untilSignal(func(cmd *cobra.Command, _ []string) error {
			if err := oneOf("format", form, "text", "json"); err != nil {
				return err
			}
			from := countStamps
			if console.IsTerminal(cmd.InOrStdin()) {
				from = countBreath
			}
			r, err := from(cmd.Context(), cmd.InOrStdin(), cmd.ErrOrStderr())
			if errors.Is(err, context.Canceled) {
				fmt.Fprintln(cmd.ErrOrStderr(), "Ended early; there is no rate.")
				return console.ExitError(console.ExitEarly)
			}
			if err != nil {
				return err
			}
			if form == "json" {
				return console.WriteJSON(cmd.OutOrStdout(), countReport{
					r, r.Steady(), [2]float64{rate.UsualLow, rate.UsualHigh}, [2]float64{rate.SlowPacedLow, rate.SlowPacedHigh}, unusual(r)})
			}
			return writeCount(cmd.OutOrStdout(), r)
		}),
	}
	formatFlag(cmd, &form, "text", "json")
	return cmd
}

// countBreath counts the presses of keys on in, with the rate as it builds up
// on out. The error is context.Canceled where the count was broken off, and a
// *rate.TooFewPressesError where it gives no rate.
func countBreath(ctx context.Context, in io.Reader, out io.Writer) (rate.CountResult, error) {
	presses := make(chan press)
	over := make(chan struct{})
	keys, err := keyboard.Listen(in, func(keys []byte, err error) {
		select {
		case presses <- press{time.Now(), string(keys), err}:
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

// press is one key, or the error that no more come.
type press struct {
	at  time.Time
	key string
	err error
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

// soFar says what the presses made until now say, in a line of 40 columns.
func soFar(r rate.CountResult) string {
	text := pressWords(r.Presses, "")
	switch {
	case r.RateHigh > 0:
		text += fmt.Sprintf(", %.1f/min (%.1f to %.1f)", r.Rate, r.RateLow, r.RateHigh)
	case r.Rate > 0:
		text += fmt.Sprintf(", %.1f/min so far", r.Rate)
	}
	return text
}

// countStamps counts the times on in, as countBreath does presses of keys: the
// count ends where it would have ended then.
func countStamps(ctx context.Context, in io.Reader, _ io.Writer) (rate.CountResult, error) {
	type result struct {
		r   rate.CountResult
		err error
	}
	got := make(chan result, 1)
	go func() {
		times, err := readStamps(in)
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

// readStamps reads times, one a line, until a count of them ends. It returns
// seconds, of dates and times those since the first.
func readStamps(in io.Reader) ([]float64, error) {
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
		case len(times) == mostStamps:
			return nil, wrong("more than %d times in one count: write one for each inhale", mostStamps)
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

// countReport is what count says in JSON.
type countReport struct {
	rate.CountResult
	Steady    bool       `json:"steady"`
	Usual     [2]float64 `json:"usual_at_rest_per_min"`
	SlowPaced [2]float64 `json:"slow_paced_per_min"`
	Unusual   string     `json:"unusual,omitempty"`
}

func writeCount(w io.Writer, r rate.CountResult) error {
	p := console.NewPrinter(w)
	p.Field("rate", fmt.Sprintf("%.1f a minute (95 %% bounds: %.1f to %.1f)", r.Rate, r.RateLow, r.RateHigh))
	p.Field("counted", fmt.Sprintf("%s in %s; a breath is %.2f s at the median", pressWords(r.Presses, ""), pacer.Clock(r.Length), r.Median))
	p.Field("corrected", correctedWords(r))
	if !r.Steady() {
		p.Field("not steady", fmt.Sprintf("the bounds of the median stay wider than %.0f %% each way: the breath varies, or the presses do", 100*rate.CountSteady))
	}
	p.Field("usual at rest", fmt.Sprintf("%d to %d a minute, adults (general clinical references)", rate.UsualLow, rate.UsualHigh))
	p.Field("slow-paced", fmt.Sprintf("%g to %g a minute (Lehrer et al. 2000)", rate.SlowPacedLow, rate.SlowPacedHigh))
	p.Line("")
	if text := unusual(r); text != "" {
		p.Wrap("", text)
	}
	p.Wrap("", "Counting is no diagnosis. Breath that is watched changes; count again before you make much of it.")
	return p.Err
}

// correctedWords says what was corrected, "" if nothing was.
func correctedWords(r rate.CountResult) string {
	doubled, missed, out := 0, 0, 0
	for _, v := range r.Intervals {
		doubled += v.Extra
		missed += max(0, v.Breaths-1)
		if v.Breaths == 0 {
			out++
		}
	}
	var parts []string
	if doubled > 0 {
		parts = append(parts, pressWords(doubled, "doubled "))
	}
	if missed > 0 {
		parts = append(parts, pressWords(missed, "missed "))
	}
	if out > 0 {
		parts = append(parts, sessions.Count(out, "interval")+" left out")
	}
	return strings.Join(parts, ", ")
}

func pressWords(n int, kind string) string {
	if n == 1 {
		return "1 " + kind + "press"
	}
	return fmt.Sprintf("%d %spresses", n, kind)
}

// unusual says in plain words that a rate lies outside the usual range at
// rest, where all of its bounds do, and what to do; else it is "".
func unusual(r rate.CountResult) string {
	switch {
	case r.RateLow > rate.UsualHigh:
		return "This is faster than usual for an adult at rest. If the person was at rest, tell the clinician. With chest pain or breathlessness call emergency services."
	case r.RateHigh < rate.UsualLow:
		return "This is slower than usual for an adult at rest. Unless the breath was slowed on purpose, tell the clinician."
	}
	return ""
}
