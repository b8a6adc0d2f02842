package main

import (
	"github.com/spf13/cobra"

	"glidepace/cmd/glidepace/internal/console"
	"glidepace/cmd/glidepace/internal/live"
	"glidepace/cmd/glidepace/internal/paper"
	"glidepace/sessions"
)

func diaryEnter(path *string) *cobra.Command {
	var from, since string
	var reps int
	cmd := &cobra.Command{
		Use:   "enter FILE",
		Short: "Enter what was ticked on paper or done with a sound file",
		Long: `Enters sessions of the session file FILE that were ticked on paper or done with
a sound file. It asks for the last two weeks, a line a day, or reads a file.

A line has one mark for each session of that day:
  y           done, all repetitions
  y 8         done, 8 repetitions in the whole session; 8 in short
  y 8+6       the same of a session that works both sides: 8 on the first one,
              6 on the other
  n           not done
  y 2/0 3/0   done, and rated: tingling/pain before, then after; y 2030 in short
  y y         two sessions; yy in short
Before it writes anything, it says in words what it read, and asks. A session that
was entered from paper before is left as it is.

A file of ticks is CSV. It has the columns date and done, and may have
repetitions, tingling_before, pain_before, tingling_after, pain_after, note, and
n (1 for the first session of a day, 2 for the second). There repetitions is the
total over both sides, or 8+6.

The rules in FILE and the sessions before it say how many repetitions a session
asked for. --reps sets one number for all of them. A session with fewer
repetitions than it asked for counts as ended early.`,
		Example: `  glidepace diary enter first-week.yaml
  glidepace diary enter first-week.yaml --since 2026-12-01
  glidepace diary enter first-week.yaml --from ticks.csv`,
		Args: cobra.ExactArgs(1),
		RunE: func(cmd *cobra.Command, args []string) error {
			if from != "" && since != "" {
				return console.Usagef("--since is for days typed in, --from for those in a file: give one of them")
			}
			t, err := live.Load(args[0])
			if err != nil {
				return err
			}
			if _, err := checkCode(diaryPath(*path), args[0], t.Session()); err != nil {
				return err
			}
			if reps < 0 || reps > t.Repetitions {
				return console.Usagef("--reps %d: allowed is 1 to %d, as many as the session has", reps, t.Repetitions)
			}
			sheet, err := paper.NewSheet(t, diaryPath(*path), reps)
			if err != nil {
				return err
			}
			if from != "" {
				return sheet.EnterFile(cmd.OutOrStdout(), from)
			}
			var first sessions.Date
			if since != "" {
				if first, err = sessions.ParseDate(since); err != nil {
					return console.Usagef("--since %q: a date is written as 2026-12-01", since)
				}
			}
			return sheet.EnterDays(cmd.Context(), cmd.InOrStdin(), cmd.OutOrStdout(), first)
		},
	}
	cmd.Flags().StringVar(&from, "from", "", "read the ticks from this CSV `file`")
	cmd.Flags().StringVar(&since, "since", "", "ask for the days from this `date` on, as 2026-12-01")
	cmd.Flags().IntVar(&reps, "reps", 0, "how many repetitions every session asked for (default: by the rules)")
	return cmd
}
