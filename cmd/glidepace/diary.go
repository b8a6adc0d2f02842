package main

import (
	"fmt"
	"io"

	"github.com/spf13/cobra"

	"glidepace/pacer"
	"glidepace/sessions"
	"glidepace/sessions/diary"
)

func diaryCommand() *cobra.Command {
	var path string
	cmd := &cobra.Command{
		Use:   "diary",
		Short: "Read the diary: list, show, export",
		Long:  "The diary is the record of what was done. It is written by pace.",
		Example: `  glidepace diary list
  glidepace diary show 7k3f
  glidepace diary export --format csv > sessions.csv`,
		Args: cobra.NoArgs,
		RunE: func(cmd *cobra.Command, _ []string) error { return cmd.Help() },
	}
	cmd.PersistentFlags().StringVar(&path, "diary", "", "the diary's `file` (default in the XDG state folder)")
	cmd.AddCommand(diaryList(&path), diaryShow(&path), diaryExport(&path))
	return cmd
}

// openDiary opens the diary for reading.
func openDiary(path string) (*diary.Diary, error) {
	if path == "" {
		path = diary.DefaultPath()
	}
	return diary.OpenExisting(path)
}

// filterFlags adds the flags that choose sessions.
func filterFlags(cmd *cobra.Command, f *diary.Filter) {
	flags := cmd.Flags()
	flags.StringVar(&f.Patient, "patient", "", "only sessions of this patient `code`")
	flags.StringVar(&f.Title, "title", "", "only sessions of this title")
	flags.StringVar(&f.From, "from", "", "only from this `date` on, as 2026-12-01")
	flags.StringVar(&f.To, "to", "", "only up to this `date`")
}

func checkFilter(f diary.Filter) error {
	for flag, date := range map[string]string{"from": f.From, "to": f.To} {
		if date == "" {
			continue
		}
		if _, err := sessions.ParseDate(date); err != nil {
			return usageError{fmt.Errorf("--%s %q: a date is written as 2026-12-01", flag, date)}
		}
	}
	return nil
}

func diaryList(path *string) *cobra.Command {
	var form string
	var filter diary.Filter
	cmd := &cobra.Command{
		Use:   "list",
		Short: "List the sessions done, the newest last",
		Args:  cobra.NoArgs,
		RunE: func(cmd *cobra.Command, _ []string) error {
			if err := oneOf("format", form, "text", "json"); err != nil {
				return err
			}
			if err := checkFilter(filter); err != nil {
				return err
			}
			d, err := openDiary(*path)
			if err != nil {
				return err
			}
			defer d.Close()
			list, err := d.List(filter)
			if err != nil {
				return err
			}
			if form == "json" {
				if list == nil {
					list = []diary.Session{}
				}
				return writeJSON(cmd.OutOrStdout(), list)
			}
			return writeSessions(cmd.OutOrStdout(), list)
		},
	}
	formatFlag(cmd, &form, "text", "json")
	filterFlags(cmd, &filter)
	return cmd
}

func writeSessions(w io.Writer, list []diary.Session) error {
	if len(list) == 0 {
		_, err := fmt.Fprintln(w, "No session was found.")
		return err
	}
	t := newTable(w)
	t.row("ID", "STARTED", "LENGTH", "REPETITIONS", "OUTCOME", "PATIENT", "TITLE")
	for _, s := range list {
		started := "not known"
		if !s.Started.IsZero() {
			started = s.Started.Format("2006-01-02 15:04")
		}
		outcome := string(s.Outcome)
		if outcome == "" {
			outcome = "running"
		}
		if s.Extra {
			outcome += ", extra"
		}
		t.row(s.ID, started, pacer.Clock(s.Length.Seconds()),
			fmt.Sprintf("%d of %d", s.Done.Repetitions, s.Planned.Repetitions), outcome, s.Patient, s.Title)
	}
	return t.flush()
}

func diaryShow(path *string) *cobra.Command {
	var form string
	cmd := &cobra.Command{
		Use:     "show ID",
		Short:   "Show one session with what happened in it",
		Long:    "Shows one session. The first four characters of its ID will do where no other begins so.",
		Example: "  glidepace diary show 7k3f",
		Args:    cobra.ExactArgs(1),
		RunE: func(cmd *cobra.Command, args []string) error {
			if err := oneOf("format", form, "text", "json"); err != nil {
				return err
			}
			d, err := openDiary(*path)
			if err != nil {
				return err
			}
			defer d.Close()
			s, err := d.Show(args[0])
			if err != nil {
				return err
			}
			if form == "json" {
				return writeJSON(cmd.OutOrStdout(), s)
			}
			_, err = io.WriteString(cmd.OutOrStdout(), s.String())
			return err
		},
	}
	formatFlag(cmd, &form, "text", "json")
	return cmd
}

func diaryExport(path *string) *cobra.Command {
	var form string
	var filter diary.Filter
	cmd := &cobra.Command{
		Use:   "export",
		Short: "Write the diary as CSV or JSON to standard output",
		Args:  cobra.NoArgs,
		RunE: func(cmd *cobra.Command, _ []string) error {
			if err := oneOf("format", form, "csv", "json"); err != nil {
				return err
			}
			if err := checkFilter(filter); err != nil {
				return err
			}
			d, err := openDiary(*path)
			if err != nil {
				return err
			}
			defer d.Close()
			if form == "json" {
				return d.ExportJSON(cmd.OutOrStdout(), filter)
			}
			return d.ExportCSV(cmd.OutOrStdout(), filter)
		},
	}
	formatFlag(cmd, &form, "csv", "json")
	filterFlags(cmd, &filter)
	return cmd
}
