package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"strings"

	"github.com/spf13/cobra"

	"glidepace/cmd/glidepace/internal/console"
	"glidepace/cmd/glidepace/internal/counter"
	"glidepace/pacer"
	"glidepace/pacer/rate"
	"glidepace/sessions"
)

func countCommand() *cobra.Command {
	var form string
	cmd := &cobra.Command{
		Use:   "count",
		Short: "Count a person's own breath rate from key presses",
		Long: `Counts how fast a person breathes. On a terminal the person, or better somebody
who watches unnoticed, presses a key at each inhale; q ends. Otherwise the times
of the inhales are read, one a line, in seconds (12.5) or as a date and time
(2026-01-31T08:00:12.5Z).

The rate comes from the median interval, with 95 % bounds. A doubled or missed
press is known by its ratio to the median, and corrected. From the 7th press on,
the count ends as soon as the bounds are within 10 % of the median. Otherwise it
ends at 60 s or at the 7th press, whichever is later. Fewer than 7 presses in
120 s give no rate.

Counting is no diagnosis.`,
		Example: `  glidepace count
  glidepace count --format json < inhales.txt`,
		Args: cobra.NoArgs,
		RunE: untilSignal(func(cmd *cobra.Command, _ []string) error {
			if err := oneOf("format", form, "text", "json"); err != nil {
				return err
			}
			count := counter.Times
			if console.IsTerminal(cmd.InOrStdin()) {
				count = counter.Keys
			}
			r, err := count(cmd.Context(), cmd.InOrStdin(), cmd.ErrOrStderr())
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
	p.Field("counted", fmt.Sprintf("%s in %s; a breath is %.2f s at the median", sessions.Count(r.Presses, "press"), pacer.Clock(r.Length), r.Median))
	p.Field("corrected", corrected(r))
	if !r.Steady() {
		p.Field("not steady", fmt.Sprintf("the bounds are still more than %.0f %% from the median: the breath varies, or the presses do", 100*rate.CountSteady))
	}
	p.Field("usual at rest", fmt.Sprintf("%d to %d a minute, adults (general clinical references)", rate.UsualLow, rate.UsualHigh))
	p.Field("slow-paced", fmt.Sprintf("%g to %g a minute (Lehrer et al. 2000)", rate.SlowPacedLow, rate.SlowPacedHigh))
	p.Line("")
	if text := unusual(r); text != "" {
		p.Wrap("", text)
	}
	p.Wrap("", "Counting is no diagnosis. Breath changes when it is watched: count again before you rely on one count.")
	return p.Err
}

// corrected says what was corrected, "" if nothing was.
func corrected(r rate.CountResult) string {
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
		parts = append(parts, sessions.Count(doubled, "doubled press"))
	}
	if missed > 0 {
		parts = append(parts, sessions.Count(missed, "missed press"))
	}
	if out > 0 {
		parts = append(parts, sessions.Count(out, "interval")+" left out")
	}
	return strings.Join(parts, ", ")
}

// unusual says that a rate is outside the usual range at rest, and what to do. It
// is "" unless both bounds are outside.
func unusual(r rate.CountResult) string {
	switch {
	case r.RateLow > rate.UsualHigh:
		return "This is faster than usual for an adult at rest. If the person was at rest, tell the clinician. Chest pain, or breathlessness that does not ease at rest: call emergency services."
	case r.RateHigh < rate.UsualLow:
		return "This is slower than usual for an adult at rest. Unless the breath was slowed on purpose, tell the clinician."
	}
	return ""
}
