package main

import (
	"cmp"
	"fmt"
	"strings"
	"time"

	"github.com/spf13/cobra"

	"glidepace/cmd/glidepace/internal/console"
	"glidepace/devices/box/loan"
	"glidepace/pacer"
	"glidepace/sessions"
	"glidepace/sessions/diary"
)

// memoryCard says what no program can promise.
const memoryCard = `A memory card may keep traces of what was wiped, where no file shows them: it
writes new data elsewhere and leaves the old for a while. Where local rules ask
for more, lend with a fresh or an encrypted card.`

func boxBackCommand() *cobra.Command {
	var from, into, form string
	var how loan.Return
	cmd := &cobra.Command{
		Use:   "back --from FOLDER --into DIARY",
		Short: "Take a box back: merge its diary, then wipe its card",
		Long: `Merges the diary on a box's card into the clinic's, and makes sure that every
entry is there. It writes there that the box is back, for box list. Only then
does it wipe the patient's data from the card: session file, diary, recordings,
the record of the loan. Then it looks for traces of that data in every file in
the folder that it can read, and says what was done with the box. Where the
folder is on a volume of its own, such as a card's, it looks through the rest of
that volume too, but wipes nothing there.

The diary must be the one that box load wrote the loan into: back makes none,
and does nothing where the diary does not know the loan. If another computer
loaded the card, or a glidepace that kept no list of loans, give
--loaded-elsewhere.

The box file stays. Run a second time, it changes nothing; if it was cut off, it
goes on. Nothing is wiped that is not in the clinic's diary: if the card's diary
is gone or damaged, everything stays as it is. Then move what is left of it to a
safe place, and wipe the rest with --without-diary.

If traces are found the card is not clean, and the record of the loan stays on
it: ` + loan.RecordName + `, with the patient code. See to the files that are named, and run
this again with the same diary. It looks for the same things, and wipes the
record once nothing is found. If what it names is no trace, such as a word that
is there for another reason, remove ` + loan.RecordName + ` yourself.`,
		Example: `  glidepace box back --from /media/card --into clinic.db
  glidepace box back --from /media/card --into clinic.db --without-diary
  glidepace box back --from E:\ --into clinic.db --format json > loan.json`,
		Args: cobra.NoArgs,
		RunE: func(cmd *cobra.Command, _ []string) error {
			if err := oneOf("format", form, "text", "json"); err != nil {
				return err
			}
			if err := folderFlag("from", from); err != nil {
				return err
			}
			if err := clinicFolder(into); err != nil {
				return err
			}
			byDefault := into == ""
			into := diaryPath(into)
			errs := cmd.ErrOrStderr()
			defer console.TellIfSlow(errs, "Reading, wiping and looking through the card: leave it in.")()
			today := sessions.DateOf(time.Now())
			how.Today = today
			back, failed := loan.Back(from, into, how)
			if failed == nil || back.Merged {
				r := newLoanReport(back, from, into, today)
				r.clean, r.byDefault = failed == nil, byDefault
				write := r.write
				if form == "json" {
					write = func(p *console.Printer) { p.Err = console.WriteJSON(p.W, r) }
				}
				p := console.NewPrinter(cmd.OutOrStdout())
				write(p)
				failed = cmp.Or(failed, p.Err)
			}
			if failed == nil && len(back.Traces) > 0 {
				failed = tracesLeft(back)
			}
			return failed
		},
	}
	f := cmd.Flags()
	f.StringVar(&from, "from", "", "the card's `folder`")
	f.StringVar(&into, "into", "", "the clinic's diary, a `file` (default: in the XDG state folder)")
	f.BoolVar(&how.LoadedElsewhere, "loaded-elsewhere", false, "take a card back whose loan this diary does not know: another computer loaded it")
	f.BoolVar(&how.WithoutDiary, "without-diary", false, "wipe a card although its diary is gone: what was done is lost, unless it is kept elsewhere")
	formatFlag(cmd, &form, "text", "json")
	return cmd
}

// tracesLeft says what to do about a card on which traces were found.
func tracesLeft(back *loan.Returned) error {
	places := sessions.Count(len(back.Traces), "place")
	if !back.Kept {
		return fmt.Errorf("traces may be left in %s: see to these files before you lend the card; it has no record of the loan, so nothing will look for them again", places)
	}
	return fmt.Errorf("traces may be left in %s: see to these files, and bring the card back again before you lend it; until then %s stays on it, which names the patient code", places, loan.RecordName)
}

// loanReport is what back says of a loan.
type loanReport struct {
	Nothing  bool            `json:"nothing"`    // there was nothing of a loan on the card
	Again    bool            `json:"look_again"` // its diary was merged before: one more look
	Box      string          `json:"box,omitempty"`
	Patient  string          `json:"patient,omitempty"`
	Out      time.Time       `json:"out,omitzero"`
	Due      string          `json:"due,omitempty"`
	Back     string          `json:"back"`
	Title    string          `json:"title,omitempty"`
	Dose     *doseReport     `json:"dose,omitempty"`
	Done     []diary.Session `json:"sessions"`
	Diary    string          `json:"diary"` // the clinic's
	Added    int             `json:"added"`
	Extended int             `json:"extended"`
	Notes    []string        `json:"notes,omitempty"`
	Wiped    []string        `json:"wiped"`
	Left     []string        `json:"not_wiped"` // of the loan, after trouble with the card
	Looked   int             `json:"files_left"`
	Volume   string          `json:"volume,omitempty"` // that was looked through too
	Outside  int             `json:"files_outside"`    // of the folder, on the volume
	Cut      bool            `json:"not_all_outside"`
	Unread   []string        `json:"not_looked_into"`
	Traces   []loan.Trace    `json:"traces"`

	from, due string
	clean     bool // nothing went wrong in wiping and looking
	byDefault bool // the clinic's diary was not named
	noRecord  bool // so it is not known which recordings were loaded
}

func newLoanReport(b *loan.Returned, from, into string, today sessions.Date) loanReport {
	r := loanReport{
		Nothing: b.Nothing, Again: b.Again, Back: today.String(), Diary: into, Added: b.Added, Extended: b.Extended, Looked: b.Looked,
		Done: append([]diary.Session{}, b.Sessions...), Wiped: append([]string{}, b.Wiped...), Traces: append([]loan.Trace{}, b.Traces...),
		Left: append([]string{}, b.Left...), Unread: append([]string{}, b.Unread...),
		Volume: b.Volume, Outside: b.Outside, Cut: b.Cut,
		from: from, noRecord: b.Record == nil && !b.Again,
	}
	if l := b.Record; l != nil && !l.Loading {
		r.Box, r.Patient, r.Out, r.Due = l.Box, l.Patient, l.Out, l.Due.String()
		switch days := l.Due.DaysSince(today); {
		case days > 0:
			r.due = fmt.Sprintf("%s early", sessions.Count(days, "day"))
		case days < 0:
			r.due = fmt.Sprintf("%s late", sessions.Count(-days, "day"))
		default:
			r.due = "on the day"
		}
	}
	if b.Session != nil {
		r.Title = b.Session.Title
		if t, err := pacer.New(b.Session); err == nil {
			r.Dose = newDoseReport(b.Session.Dose, t.Repetitions)
		}
	}
	r.addNotes(b)
	return r
}

// addNotes says what was not as it should be.
func (r *loanReport) addNotes(b *loan.Returned) {
	note := func(format string, args ...any) { r.Notes = append(r.Notes, fmt.Sprintf(format, args...)) }
	switch {
	case b.Nothing:
	case b.Again:
		note("The diary of this card was merged earlier. Now the rest was wiped, and traces were looked for again.")
	case b.Record == nil:
		note("The card had no record of a loan that could be read, so nobody knows which recordings belong to the loan.")
	case b.Record.Loading:
		note("The card was not loaded to the end: what was on it is wiped.")
	case b.NoDiary:
		note("There was no diary on the card: nothing was merged.")
	}
	others, warned := 0, 0
	for _, s := range b.Sessions {
		if w := s.Warning(); w != "" {
			note("In the clinic's diary, %s.", w)
		}
		if s.Symptom() == sessions.WarningSign {
			warned++
		}
		if r.Patient != "" && s.Patient != r.Patient {
			others++
		}
	}
	if warned > 0 {
		note("Stopped for a warning sign: %s. On the box any stop in a neck glide counts as one: ask what it was. The same session file is loaded again only with --cleared.", sessions.Count(warned, "session"))
	}
	if others > 0 {
		note("%s with another patient code than %s: see glidepace diary list.", sessions.Count(others, "session"), r.Patient)
	}
}

func (r loanReport) write(p *console.Printer) {
	if r.Nothing {
		p.Wrap("", fmt.Sprintf("The card in %s has nothing of a loan on it: nothing was changed.", r.from))
		return
	}
	if r.Box != "" {
		p.Wrap("", fmt.Sprintf("%s, lent to %s on %s, due %s: back %s, %s.",
			r.Box, r.Patient, sessions.DateOf(r.Out), r.Due, r.Back, r.due))
	}
	if r.Title != "" {
		text := r.Title
		if r.Dose != nil {
			text += "; asked for: " + r.Dose.words()
		}
		p.Wrap("", text+".")
	}
	for _, n := range r.Notes {
		p.Wrap("", n)
	}
	if !r.Again {
		p.Line("")
		r.writeDone(p)
	}
	p.Line("")
	r.writeCard(p)
}

// writeDone writes what was done with the box.
func (r loanReport) writeDone(p *console.Printer) {
	if len(r.Done) == 0 {
		p.Wrap("", fmt.Sprintf("No session was brought back; the clinic's diary is %s.", r.diary()))
		return
	}
	t := console.NewTable(p.W)
	t.Row("STARTED", "REPETITIONS", "OUTCOME", "SYMPTOMS")
	outcomes := map[sessions.Outcome]int{}
	repetitions := 0
	for _, s := range r.Done {
		when := s.When()
		if when == "" {
			when = fmt.Sprintf("date not known, number %d", s.Number)
		}
		t.Row(when, fmt.Sprintf("%d of %d", s.Done.Repetitions, s.Planned.Repetitions), s.OutcomeWords(),
			cmp.Or(sessions.BeforeAndAfter(s.Before, s.After), string(s.Felt), "not asked"))
		outcomes[s.Outcome]++
		repetitions += s.Done.Repetitions
	}
	if err := t.Flush(); err != nil {
		p.Err = cmp.Or(p.Err, err)
	}
	var counts []string
	for _, o := range []sessions.Outcome{sessions.Completed, sessions.EndedEarly, sessions.Symptoms, sessions.Interrupted} {
		if n := outcomes[o]; n > 0 {
			counts = append(counts, fmt.Sprintf("%d %s", n, diary.Session{Outcome: o}.OutcomeWords()))
		}
	}
	p.Wrap("", fmt.Sprintf("%s: %s; %s done.", sessions.Count(len(r.Done), "session"), strings.Join(counts, ", "), sessions.Count(repetitions, "repetition")))
	all := "All are in " + r.diary()
	if there := len(r.Done) - r.Added - r.Extended; there > 0 {
		all += fmt.Sprintf("; there before: %d", there)
	}
	if r.Extended > 0 {
		all += fmt.Sprintf("; there in part: %d", r.Extended)
	}
	p.Wrap("", all+".")
}

// diary names the clinic's diary, and says where nobody named it.
func (r loanReport) diary() string {
	if r.byDefault {
		return r.Diary + " (the default without --into)"
	}
	return r.Diary
}

// writeCard writes what became of the card.
func (r loanReport) writeCard(p *console.Printer) {
	if len(r.Wiped) > 0 {
		p.Wrap("", "Wiped from the card: "+shortList(r.Wiped)+".")
	}
	if len(r.Left) > 0 {
		p.Wrap("", "Not wiped, and still on the card: "+strings.Join(r.Left, ", ")+".")
	}
	if !r.clean {
		return
	}
	for _, t := range r.Traces {
		where := "holds"
		if t.Name {
			where = "has in its name"
		}
		p.Wrap("- ", fmt.Sprintf("%s %s what may be %s", t.File, where, t.What))
	}
	if len(r.Traces) == 0 {
		p.Wrap("", r.nothingLeft())
	}
	if len(r.Unread) > 0 {
		p.Wrap("", "Not looked into, because they cannot be read; loading writes nothing there: "+shortList(r.Unread)+".")
	}
	p.Wrap("", memoryCard)
}

// nothingLeft says where nothing was found, and claims no more than that.
func (r loanReport) nothingLeft() string {
	text := "Nothing of the loan is left"
	switch {
	case r.Again && r.Patient == "":
		return "Nothing was looked for: no record on the card says whose loan it was."
	case r.Again:
		text = fmt.Sprintf("Nothing that the record of the loan and %s say about %s is left", r.Diary, r.Patient)
	case r.noRecord:
		text = "Apart from recordings, if there were any, nothing of the loan is left"
	}
	text += fmt.Sprintf(" in the folder %s (%s looked through)", r.from, sessions.Count(r.Looked, "file"))
	switch {
	case r.Volume == "":
		text += "; nothing outside it was looked through"
	case r.Outside > 0 || r.Cut:
		text += fmt.Sprintf(", nor in the rest of %s (%s)", r.Volume, sessions.Count(r.Outside, "file"))
		if r.Cut {
			text += "; there were more or larger files there, which were not looked through"
		}
	}
	return text + "."
}

// shortList names the first of many.
func shortList(names []string) string {
	const most = 6
	if more := len(names) - most; more > 0 {
		names = append(names[:most:most], fmt.Sprintf("%d more", more))
	}
	return strings.Join(names, ", ")
}
