package main

import (
	"cmp"
	"errors"
	"fmt"
	"io"
	"iter"
	"strings"
	"time"

	"github.com/spf13/cobra"

	"glidepace/cmd/glidepace/internal/console"
	"glidepace/pacer"
	"glidepace/sessions"
	"glidepace/sessions/diary"
)

func diaryCommand() *cobra.Command {
	var path string
	cmd := &cobra.Command{
		Use:   "diary",
		Short: "The diary: list, show, note, enter, merge, export, erase",
		Long: `The diary records what was done and how it felt. pace writes it. What was ticked
on paper, or done with a sound file, you enter.`,
		Example: `  glidepace diary list
  glidepace diary show k3f7
  glidepace diary note k3f7 hand was cold
  glidepace diary enter first-week.yaml
  glidepace diary merge --diary clinic.db room-1.db room-2.db
  glidepace diary export --format csv > sessions.csv
  glidepace diary erase --patient K-204`,
		Args: cobra.NoArgs,
		RunE: func(cmd *cobra.Command, _ []string) error { return cmd.Help() },
	}
	cmd.PersistentFlags().StringVar(&path, "diary", "", "the diary's `file` (default: in the XDG state folder)")
	cmd.AddCommand(diaryList(&path), diaryShow(&path), diaryNote(&path), diaryEnter(&path), diaryMerge(&path), diaryExport(&path), diaryErase(&path))
	return cmd
}

// openDiary opens the diary for reading.
func openDiary(path string) (*diary.Diary, error) {
	return diary.OpenExisting(diaryPath(path))
}

// filterFlags adds the flags that choose sessions.
func filterFlags(cmd *cobra.Command, f *diary.Filter) {
	flags := cmd.Flags()
	flags.StringVar(&f.Patient, "patient", "", "only sessions of this patient `code`, in any case")
	flags.StringVar(&f.Title, "title", "", "only sessions of this title")
	flags.StringVar(&f.From, "from", "", "only from this `date` on, as 2026-12-01")
	flags.StringVar(&f.To, "to", "", "only up to this `date`")
}

// openChosen opens the diary for reading, if the filter is valid. In the filter it puts
// the patient code as the diary has it; one that is not there it tells to errs, with the
// codes that may be meant.
func openChosen(path string, f *diary.Filter, errs io.Writer) (*diary.Diary, error) {
	for flag, date := range map[string]string{"from": f.From, "to": f.To} {
		if date == "" {
			continue
		}
		if _, err := sessions.ParseDate(date); err != nil {
			return nil, console.Usagef("--%s %q: a date is written as 2026-12-01", flag, date)
		}
	}
	d, err := openDiary(path)
	if err != nil || f.Patient == "" {
		return d, err
	}
	var found bool
	var similar []string
	if f.Patient, found, err = d.PatientCode(f.Patient); err == nil && !found {
		similar, err = d.SimilarCodes(f.Patient)
	}
	if err != nil {
		d.Close()
		return nil, err
	}
	if !found {
		console.Say(errs, "glidepace: the diary %s has nothing of %s%s", diaryPath(path), f.Patient, didYouMean(similar))
	}
	return d, nil
}

// lastOnTerminal is how many sessions a terminal shows, so that the heading stays in
// sight.
const lastOnTerminal = 20

func diaryList(path *string) *cobra.Command {
	var form string
	var all bool
	var filter diary.Filter
	cmd := &cobra.Command{
		Use:   "list",
		Short: "List the sessions, the newest last",
		Long: `Lists the sessions, the newest last. A line above them says whose they are: the
patient code and the title. Ratings are tingling/pain before and after. If a
session had several stops, the most serious one is named.

A terminal shows the last 20, with --all every session.`,
		Args: cobra.NoArgs,
		RunE: func(cmd *cobra.Command, _ []string) error {
			if err := oneOf("format", form, "text", "json"); err != nil {
				return err
			}
			d, err := openChosen(*path, &filter, cmd.ErrOrStderr())
			if err != nil {
				return err
			}
			defer d.Close()
			list := warned(d.Each(filter), cmd.ErrOrStderr())
			if form == "json" {
				return console.WriteJSONList(cmd.OutOrStdout(), list)
			}
			if all || !console.IsTerminal(cmd.OutOrStdout()) {
				return writeSessions(cmd.OutOrStdout(), list, diaryPath(*path))
			}
			return writeLast(cmd.OutOrStdout(), list, lastOnTerminal, diaryPath(*path))
		},
	}
	cmd.Flags().BoolVar(&all, "all", false, "every session, on a terminal too")
	formatFlag(cmd, &form, "text", "json")
	filterFlags(cmd, &filter)
	return cmd
}

// warned passes sessions on, and says what of each cannot be read.
func warned(list iter.Seq2[diary.Session, error], errs io.Writer) iter.Seq2[diary.Session, error] {
	return func(yield func(diary.Session, error) bool) {
		for s, err := range list {
			if w := s.Warning(); w != "" {
				console.Say(errs, "%s%s", console.NoteLead, w)
			}
			if !yield(s, err) {
				return
			}
		}
	}
}

// inTable is after how many rows a table is written, so that a long one is not
// kept in memory. Its columns may shift there.
const inTable = 1000

// writeLast writes the last n sessions, and how many there are if there are more.
func writeLast(w io.Writer, list iter.Seq2[diary.Session, error], n int, path string) error {
	var last []diary.Session
	count := 0
	for s, err := range list {
		if err != nil {
			return err
		}
		if count++; len(last) == n {
			last = last[1:]
		}
		last = append(last, s)
	}
	err := writeSessions(w, func(yield func(diary.Session, error) bool) {
		for _, s := range last {
			if !yield(s, nil) {
				return
			}
		}
	}, path)
	if err != nil || count <= n {
		return err
	}
	return console.Say(w, "The last %d of %d sessions. All of them: glidepace diary list --all", n, count)
}

func writeSessions(w io.Writer, list iter.Seq2[diary.Session, error], path string) error {
	t := console.NewTable(w)
	rows, whose := 0, ""
	for s, err := range list {
		if err != nil {
			return errors.Join(t.Flush(), err)
		}
		if rows == 0 {
			t.Row("ID", "STARTED", "LENGTH", "DONE", "RATINGS", "OUTCOME")
		}
		if rows++; rows%inTable == 0 {
			if err := t.Flush(); err != nil {
				return err
			}
		}
		if of := strings.TrimPrefix(s.Patient+", "+s.Title, ", "); of != whose || rows == 1 {
			t.Row(of)
			whose = of
		}
		length := pacer.Clock(s.Length.Seconds())
		if s.Source == diary.FromPaper {
			length = "" // not known
		}
		t.Row(s.ID, cmp.Or(s.When(), "not known"), length, fmt.Sprintf("%d of %d", s.Done.Repetitions, s.Planned.Repetitions),
			sessions.BeforeAndAfter(s.Before, s.After), outcomeAndMarks(s))
	}
	if rows == 0 {
		p := console.NewPrinter(w)
		p.Sentence(fmt.Sprintf("No session was found in the diary %s.", path))
		return p.Err
	}
	return t.Flush()
}

// outcomeAndMarks says how a session ended, and what else sets it apart.
func outcomeAndMarks(s diary.Session) string {
	marks := []string{s.OutcomeWords()}
	if s.Outcome == "" {
		marks[0] = "running"
	}
	if s.NextMorning == sessions.Worse {
		marks = append(marks, "worse until the next morning")
	}
	if s.Extra {
		marks = append(marks, "extra")
	}
	if s.Source != diary.Paced {
		marks = append(marks, s.Source)
	}
	return strings.Join(marks, ", ")
}

func diaryShow(path *string) *cobra.Command {
	var form string
	var filter diary.Filter
	cmd := &cobra.Command{
		Use:   "show [ID]",
		Short: "Show one session with what happened in it",
		Long: `Shows one session; without an ID, the last one. The first four characters of its
ID are enough if no other session has them.`,
		Example: `  glidepace diary show
  glidepace diary show k3f7
  glidepace diary show --patient K-204     the last one of this patient`,
		Args: cobra.MaximumNArgs(1),
		RunE: func(cmd *cobra.Command, args []string) error {
			if err := oneOf("format", form, "text", "json"); err != nil {
				return err
			}
			if len(args) > 0 && filter.Patient != "" {
				return console.Usagef("--patient is for the last session of a patient: give it or an ID")
			}
			d, err := openChosen(*path, &filter, cmd.ErrOrStderr())
			if err != nil {
				return err
			}
			defer d.Close()
			find := func() (diary.Session, error) { return d.Last(filter) }
			if len(args) > 0 {
				find = func() (diary.Session, error) { return d.Show(args[0]) }
			}
			s, err := find()
			if err != nil {
				return err
			}
			if form == "json" {
				return console.WriteJSON(cmd.OutOrStdout(), s)
			}
			_, err = io.WriteString(cmd.OutOrStdout(), s.String())
			return err
		},
	}
	formatFlag(cmd, &form, "text", "json")
	cmd.Flags().StringVar(&filter.Patient, "patient", "", "the last session of this patient `code`")
	return cmd
}

func diaryNote(path *string) *cobra.Command {
	return &cobra.Command{
		Use:   "note ID [TEXT...]",
		Short: "Add a line to a session",
		Long: `Adds a line of up to 500 characters to a session, with the time at which it is
written. Without TEXT one line is read from standard input.`,
		Example: `  glidepace diary note k3f7 hand was cold
  glidepace diary note k3f7`,
		Args: cobra.MinimumNArgs(1),
		RunE: func(cmd *cobra.Command, args []string) error {
			d, err := openDiary(*path)
			if err != nil {
				return err
			}
			defer d.Close()
			if _, err := d.Show(args[0]); err != nil {
				return err // before anybody types a note for nothing
			}
			text := strings.Join(args[1:], " ")
			if len(args) == 1 {
				if text, err = console.Ask(cmd.Context(), cmd.InOrStdin(), cmd.OutOrStdout(), "Note: "); err != nil {
					return console.ExitError(console.ExitEarly)
				}
			}
			if err := diary.CheckNote(text); err != nil {
				return console.Usagef("%w", err)
			}
			s, err := d.Note(args[0], text, time.Now())
			if err != nil {
				return err
			}
			return console.Say(cmd.OutOrStdout(), "Note added to session %s of %s.", s.ID, cmp.Or(s.When(), "a day that is not known"))
		},
	}
}

func diaryExport(path *string) *cobra.Command {
	var form string
	var filter diary.Filter
	cmd := &cobra.Command{
		Use:   "export [DIARY.db...]",
		Short: "Write diaries as CSV or JSON to standard output",
		Long: `Writes a line a session as CSV, or an array as JSON, with all that happened in
each. jsonl writes a JSON object a line, in no order, which a database can load
however many there are.

Without DIARY.db it writes the diary that --diary names. Of several, a session
that is in two is written twice: merge them first, or let the database keep the
line that has more.`,
		Example: `  glidepace diary export --format csv > sessions.csv
  glidepace diary export --format jsonl clinic-1.db clinic-2.db > sessions.jsonl`,
		RunE: func(cmd *cobra.Command, paths []string) error {
			if err := oneOf("format", form, "csv", "json", "jsonl"); err != nil {
				return err
			}
			if len(paths) == 0 {
				paths = []string{*path}
			}
			read := map[string]func(*diary.Diary, diary.Filter) iter.Seq2[diary.Session, error]{
				"csv": (*diary.Diary).Each, "json": (*diary.Diary).EachWithEvents, "jsonl": (*diary.Diary).Unordered}[form]
			write := map[string]func(io.Writer, iter.Seq2[diary.Session, error]) error{
				"csv": diary.ExportCSV, "json": diary.ExportJSON, "jsonl": diary.ExportJSONL}[form]
			list := warned(eachOf(paths, filter, read, cmd.ErrOrStderr()), cmd.ErrOrStderr())
			if !console.IsTerminal(cmd.OutOrStdout()) {
				list = console.Counted(list, cmd.ErrOrStderr(), "session")
			}
			return write(cmd.OutOrStdout(), list)
		},
	}
	formatFlag(cmd, &form, "csv", "json", "jsonl")
	filterFlags(cmd, &filter)
	return cmd
}

// eachOf reads the chosen sessions of diaries.
func eachOf(paths []string, f diary.Filter, read func(*diary.Diary, diary.Filter) iter.Seq2[diary.Session, error], errs io.Writer) iter.Seq2[diary.Session, error] {
	return oneByOne(paths, func(path string) (*diary.Diary, iter.Seq2[diary.Session, error], error) {
		chosen := f
		d, err := openChosen(path, &chosen, errs)
		if err != nil {
			return nil, nil, err
		}
		return d, read(d, chosen), nil
	})
}

// oneByOne reads the sessions of diaries one after the other. open opens one and says what
// to read of it.
func oneByOne[S any](paths []string, open func(path string) (*diary.Diary, iter.Seq2[S, error], error)) iter.Seq2[S, error] {
	return func(yield func(S, error) bool) {
		for _, path := range paths {
			d, list, err := open(path)
			if err != nil {
				var none S
				yield(none, err)
				return
			}
			for s, err := range list {
				if !yield(s, err) || err != nil {
					d.Close()
					return
				}
			}
			d.Close()
		}
	}
}
