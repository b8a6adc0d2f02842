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
  y           done, all repetitions of the session; with progress in the file,
              as many as its rules asked for on that day
  y 8         done, 8 repetitions in the whole session; 8 in short
  y 8+6       the same of a session that works both sides: 8 on the first one,
              6 on the other
  n           not done
  y 2/0 3/0   done, and rated: tingling/pain before, then after; y 2030 in short
  y 2050 s    symptoms were still there when they should have settled;
              s or still
  y # stiff   a note, for the last session of the line
  y y         two sessions; yy in short

Before it writes anything, it says in words what it read, and asks. A session
that was entered from paper before is left as it is; where the paper says
something else, it shows both.

A file of ticks is CSV. It has the columns date and done, and may have
repetitions, tingling_before, pain_before, tingling_after, pain_after,
not_settled (y, n or blank), note, and n (1 for the first session of a day, 2
for the second). There repetitions is the total over both sides, or 8+6; blank
is y without a number.

The paper asked for all repetitions of FILE, at its rate. Only with progress in
FILE do its rules and the sessions before say how many a session asked for.
--reps sets one number for all sessions. A session with fewer repetitions than
it asked for counts as ended early.

Days before the start of the dose are refused. In a file without a start those
more than 26 weeks ago are refused too, because the year may be mistyped:
--since allows them.`,
		Example: `  glidepace diary enter first-week.yaml
  glidepace diary enter first-week.yaml --since 2026-12-01
  glidepace diary enter first-week.yaml --from ticks.csv
  glidepace diary enter old.yaml --from ticks.csv --since 2025-03-01`,
		Args: cobra.ExactArgs(1),
		RunE: func(cmd *cobra.Command, args []string) error {
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
			options := paper.Options{Reps: reps}
			if since != "" {
				if options.Since, err = sessions.ParseDate(since); err != nil {
					return console.Usagef("--since %q: a date is written as 2026-12-01", since)
				}
			}
			sheet, err := paper.NewSheet(t, diaryPath(*path), options)
			if err != nil {
				return err
			}
			if from != "" {
				return sheet.EnterFile(cmd.OutOrStdout(), from)
			}
			return sheet.EnterDays(cmd.Context(), cmd.InOrStdin(), cmd.OutOrStdout())
		},
	}
	cmd.Flags().StringVar(&from, "from", "", "read the ticks from this CSV `file`")
	cmd.Flags().StringVar(&since, "since", "", "the first day that is asked for, or may be in the file:\na `date` such as 2026-12-01")
	cmd.Flags().IntVar(&reps, "reps", 0, "how many repetitions every session asked for (default: all,\nor with progress by the rules)")
	return cmd
}
