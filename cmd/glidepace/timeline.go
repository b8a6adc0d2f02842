package main

import (
	"encoding/csv"
	"errors"
	"fmt"
	"io"
	"strconv"

	"github.com/spf13/cobra"

	"glidepace/cmd/glidepace/internal/console"
	"glidepace/cmd/glidepace/internal/live"
	"glidepace/pacer"
)

func timelineCommand() *cobra.Command {
	var form, diary, posture string
	var today bool
	cmd := &cobra.Command{
		Use:   "timeline FILE",
		Short: "Show every step of a session with its time",
		Long: `Shows the timeline of a session file: every step with its start, its length, the
breath and the movement. JSON and CSV have the numbers in full precision.`,
		Example: `  glidepace timeline first-week.yaml
  glidepace timeline first-week.yaml --format csv > first-week.csv`,
		Args: cobra.ExactArgs(1),
		RunE: func(cmd *cobra.Command, args []string) error {
			if err := errors.Join(oneOf("format", form, "table", "json", "csv"), checkPosture(posture)); err != nil {
				return err
			}
			t, err := live.Load(args[0])
			if err != nil {
				return err
			}
			if t, err = takePlace(t, posture); err != nil {
				return err
			}
			why := ""
			if today {
				now, err := todaysTimeline(t, diary)
				if err != nil {
					return err
				}
				t, why = now.Timeline, now.Words()
			}
			switch form {
			case "json":
				return console.WriteJSON(cmd.OutOrStdout(), t)
			case "csv":
				return timelineCSV(cmd.OutOrStdout(), t)
			}
			return timelineTable(cmd.OutOrStdout(), t, why)
		},
	}
	formatFlag(cmd, &form, "table", "json", "csv")
	todayFlags(cmd, &today, &diary)
	postureFlag(cmd, &posture)
	return cmd
}

func timelineTable(w io.Writer, t *pacer.Timeline, why string) error {
	p := console.NewPrinter(w)
	p.Line("%s: %s, %d breaths, %d repetitions", t.Title, pacer.Clock(t.Duration), t.Breaths, t.Repetitions)
	if why != "" {
		p.Wrap("", "Today: "+why)
	}
	p.Line("")
	if p.Err != nil {
		return p.Err
	}
	tab := console.NewTable(w)
	tab.Row("START", "SECONDS", "BREATH", "MOVE", "EXERCISE", "SIDE", "SET", "REP", "PER MIN")
	for _, s := range t.Steps {
		exercise := ""
		if s.Exercise > 0 {
			exercise = fmt.Sprintf("%d %s", s.Exercise, s.Glide)
		}
		rate := ""
		if s.Rate > 0 {
			rate = fmt.Sprintf("%.2f", s.Rate)
		}
		tab.Row(clockTenths(s.Start), fmt.Sprintf("%.3f", s.Duration), s.Breath.String(), s.Move.String(),
			exercise, s.Side.String(), number(s.Set), number(s.Rep), rate)
	}
	return tab.Flush()
}

// clockTenths writes seconds as minutes, seconds and tenths, such as 2:05.3.
func clockTenths(seconds float64) string {
	tenths := pacer.Frame(seconds, 10)
	return fmt.Sprintf("%d:%02d.%d", tenths/600, tenths/10%60, tenths%10)
}

// number writes a count, and nothing for 0.
func number(n int) string {
	if n == 0 {
		return ""
	}
	return strconv.Itoa(n)
}

// timelineCSV writes the steps as CSV (RFC 4180), with the names of the JSON
// format.
func timelineCSV(w io.Writer, t *pacer.Timeline) error {
	c := csv.NewWriter(w)
	c.UseCRLF = true
	c.Write([]string{"start_s", "duration_s", "breath", "move", "exercise", "glide", "side", "set", "rep", "rate_per_min"})
	full := func(f float64) string { return strconv.FormatFloat(f, 'g', -1, 64) }
	for _, s := range t.Steps {
		c.Write([]string{full(s.Start), full(s.Duration), s.Breath.String(), s.Move.String(), strconv.Itoa(s.Exercise),
			s.Glide, s.Side.String(), strconv.Itoa(s.Set), strconv.Itoa(s.Rep), full(s.Rate)})
	}
	c.Flush()
	return c.Error()
}
