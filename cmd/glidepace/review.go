package main

import (
	"bytes"
	"fmt"
	"io"
	"iter"
	"time"

	"github.com/spf13/cobra"

	"glidepace/cmd/glidepace/internal/console"
	"glidepace/cmd/glidepace/internal/live"
	"glidepace/sessions"
	"glidepace/sessions/diary"
	"glidepace/sessions/history"
	"glidepace/sessions/progress"
	"glidepace/sessions/review"
	"glidepace/sessions/review/page"
)

// reviewFlags are the flags of review.
type reviewFlags struct {
	diaries      []string
	patient      string
	file         string
	since, until string
	form         string
	note, all    bool

	html             string
	force, attention bool
}

func reviewCommand() *cobra.Command {
	var f reviewFlags
	cmd := &cobra.Command{
		Use:   "review",
		Short: "What the diary adds up to: what was done and how it felt",
		Long: `Adds up what one or many diaries hold: how much of the dose was done, the
ratings before and after, stops and how long they took to settle, the rate of
the breath, and what stands out. The first line can be said aloud.

Of many patients it makes a table, those that need attention first. A patient of
many is seen with --patient: the main figures on one screen, the rest with
--all.

The diary keeps the dose with each session. For sessions of older versions, give
the session file with --file; it also says why today's session is as it is.`,
		Example: `  glidepace review --patient K-204
  glidepace review --file first-week.yaml --since 2026-12-01
  glidepace review --patient K-204 --all
  glidepace review --patient K-204 --note
  glidepace review --diary room-1.db --diary room-2.db
  glidepace review --format csv > weeks.csv
  glidepace review --html review.html --attention`,
		Args: cobra.NoArgs,
		RunE: func(cmd *cobra.Command, _ []string) error {
			if err := f.check(); err != nil {
				return err
			}
			courses, err := f.review(cmd.ErrOrStderr())
			if err != nil {
				return err
			}
			return f.write(cmd.OutOrStdout(), courses)
		},
	}
	flags := cmd.Flags()
	flags.StringArrayVar(&f.diaries, "diary", nil, "a diary's `file`; may be given several times (default: in the XDG state folder)")
	flags.StringVar(&f.patient, "patient", "", "only sessions of this patient `code`")
	flags.StringVar(&f.file, "file", "", "the `session file`: only sessions that belong to it, and its dose where the diary has none")
	flags.StringVar(&f.since, "since", "", "only from this `date` on, as 2026-12-01 (default: from the first session)")
	flags.StringVar(&f.until, "until", "", "only up to this `date` (default: today)")
	flags.BoolVar(&f.all, "all", false, "of one patient: every week, stop and note, with the rules, intervals and trends")
	flags.BoolVar(&f.note, "note", false, "only a short paragraph for the record")
	formatFlag(cmd, &f.form, "text", "json", "csv")
	flags.StringVar(&f.html, "html", "", "write a page with charts to this `file`, for a browser or for printing")
	flags.BoolVar(&f.force, "force", false, "replace the file of --html if it is there")
	flags.BoolVar(&f.attention, "attention", false, "in the page, show in full only patients who need attention")
	return cmd
}

// check refuses flags that are wrong in themselves.
func (f *reviewFlags) check() error {
	if f.note && f.form != "text" {
		return console.Usagef("--note is text: leave out --format")
	}
	if f.html != "" && (f.note || f.form != "text") {
		return console.Usagef("--html is a page of its own: leave out --note and --format")
	}
	if f.all && (f.note || f.html != "" || f.form != "text") {
		return console.Usagef("--all is for the text: leave out --note, --html and --format")
	}
	if f.html == "" && (f.force || f.attention) {
		return console.Usagef("--force and --attention are for the page: give --html FILE")
	}
	if f.html != "" {
		return checkOut(f.html, []string{".html", ".htm"}, append(f.diaries, f.file)...)
	}
	return oneOf("format", f.form, "text", "json", "csv")
}

// options turns the flags into what to review.
func (f *reviewFlags) options() (o review.Options, err error) {
	o = review.Options{Today: sessions.DateOf(time.Now()), Patient: f.patient}
	for _, day := range []struct {
		flag, text string
		date       *sessions.Date
	}{{"since", f.since, &o.Since}, {"until", f.until, &o.Until}} {
		if day.text == "" {
			continue
		}
		if *day.date, err = sessions.ParseDate(day.text); err != nil {
			return o, console.Usagef("--%s %q: a date is written as 2026-12-01", day.flag, day.text)
		}
	}
	if !o.Until.IsZero() && o.Since.DaysSince(o.Until) > 0 {
		return o, console.Usagef("--since %s is after --until %s", f.since, f.until)
	}
	if f.file != "" {
		t, err := live.Load(f.file)
		if err != nil {
			return o, err
		}
		o.File = t.Session()
	}
	return o, nil
}

// review reads the diaries and adds them up. What cannot be read is told to errs.
func (f *reviewFlags) review(errs io.Writer) ([]review.Course, error) {
	o, err := f.options()
	if err != nil {
		return nil, err
	}
	if len(f.diaries) == 0 {
		f.diaries = []string{diary.DefaultPath()}
	}
	if o.File != nil && f.until == "" {
		if o.Why, err = whyToday(f.diaries, o.File, o.Today); err != nil {
			return nil, err
		}
	}
	courses, err := review.Courses(console.Counted(readDiaries(f.diaries, o), errs, "session"), o)
	if err != nil {
		return nil, err
	}
	for i := range courses {
		for _, unread := range courses[i].Unread {
			console.Say(errs, "%s%s", console.NoteLead, unread)
		}
	}
	if len(courses) == 0 && (f.patient != "" || f.file != "") {
		return nil, fmt.Errorf("there is no session of this patient in %s; glidepace diary list shows which are", nounOf(f.diaries))
	}
	for i := range courses {
		courses[i].AddTrends()
	}
	return courses, nil
}

func nounOf(diaries []string) string {
	if len(diaries) == 1 {
		return "the diary"
	}
	return "the diaries"
}

// readDiaries reads the sessions of the patient to review, or all.
func readDiaries(paths []string, o review.Options) iter.Seq2[review.Session, error] {
	return oneByOne(paths, func(path string) (*diary.Diary, iter.Seq2[review.Session, error], error) {
		d, err := diary.OpenExisting(path)
		if err != nil {
			return nil, nil, err
		}
		filter := diary.Filter{Patient: o.Patient}
		if o.File != nil {
			filter = diary.Filter{Patient: o.File.Patient, NoPatient: o.File.Patient == ""}
		} else if o.Patient != "" {
			if filter.Patient, _, err = d.PatientCode(o.Patient); err != nil {
				d.Close()
				return nil, nil, err
			}
		}
		return d, review.Read(d, filter), nil
	})
}

// whyToday says why today's session is as it is, by the rules of a session file.
func whyToday(paths []string, s *sessions.Session, today sessions.Date) (string, error) {
	var entries []progress.Entry
	for _, path := range paths {
		p, err := history.Read(diary.Options{}, path, s, today)
		if err != nil {
			return "", err
		}
		if !p.Behind.IsZero() {
			today = sessions.Date{}
		}
		entries = append(entries, p.Entries...)
	}
	return progress.Today(s, entries, today).Why, nil
}

// write writes the review.
func (f *reviewFlags) write(w io.Writer, courses []review.Course) error {
	switch {
	case f.form == "json":
		type named struct {
			Spoken string `json:"spoken"`
			review.Course
		}
		list := []named{}
		for _, c := range courses {
			list = append(list, named{c.Spoken(), c})
		}
		return console.WriteJSON(w, list)
	case f.form == "csv":
		return review.WriteCSV(w, courses)
	case len(courses) == 0:
		return console.Say(w, "No session was found.")
	case f.html != "":
		return f.writePage(w, courses)
	case f.note:
		p := console.NewPrinter(w)
		for i := range courses {
			p.Sentence(courses[i].Note())
		}
		return p.Err
	case len(courses) == 1:
		cure := "give the session file with --file"
		if f.file != "" {
			cure = "the session file has no dose either"
		}
		if f.all {
			return newReviewText(w).all(&courses[0], cure)
		}
		return newReviewText(w).course(&courses[0], cure)
	}
	return newReviewText(w).courses(courses)
}

// writePage writes the page with charts, and says what it begins with.
func (f *reviewFlags) writePage(w io.Writer, courses []review.Course) error {
	var b bytes.Buffer
	if err := page.Write(&b, courses, courses[0].To, f.attention); err != nil {
		return err
	}
	if err := writeFiles(f.force, outFile{f.html, b.Bytes()}); err != nil {
		return err
	}
	p := console.NewPrinter(w)
	p.Sentence(spoken(courses))
	p.Line("%s is written. Open it in a browser.", f.html)
	return p.Err
}
