package main

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"io/fs"
	"maps"
	"os"
	"path"
	"path/filepath"
	"slices"
	"strings"
	"time"

	"github.com/spf13/cobra"

	"glidepace/cmd/glidepace/internal/console"
	"glidepace/cmd/glidepace/internal/live"
	"glidepace/devices/box"
	"glidepace/devices/box/loan"
	"glidepace/pacer"
	"glidepace/sessions"
	"glidepace/sessions/diary"
	"glidepace/sessions/fields"
	"glidepace/sessions/history"
	"glidepace/sessions/progress"
	"glidepace/sessions/safefile"
	"glidepace/sounds/clips"
)

// The longest loan, in weeks.
const mostWeeks = 52

// loadOptions are the flags of load.
type loadOptions struct {
	to, boxFile, due, into string
	weeks                  int
	replaceBox, cleared    bool
	lendAgain              bool
}

func boxLoadCommand() *cobra.Command {
	var o loadOptions
	cmd := &cobra.Command{
		Use:   "load SESSION --to FOLDER",
		Short: "Put a session onto the card of a box that is lent",
		Long: `Puts onto a card all that a box needs for a loan: the session file, checked; the
box file; the clinic's recordings, where the session names some; a blank diary;
and a record of the loan with the patient code, the box's name, and when it goes
out and is due back. The folder is the card's, as this computer shows it. The
loan is also written into the clinic's diary, for box list.

The session file needs a patient code. Keep the session file on the computer,
not on the card. A card that is still lent, or has a diary with sessions or
traces of a loan, is refused: bring it back first. So is one that has another
file where a file of the loan goes, or a link: move it away. All other files on
the card stay as they are; box back looks through them for traces, but does not
wipe them. Where loading was cut off, the card is not loaded: load it again.

A box that is still out, as the clinic's diary knows it, is refused too: it may
be the wrong box file. With --lend-again it is lent once more, and the loan
before stays in the list as out.

Without --due or --weeks the box is due back on the day after the course that
the session file's dose gives.

A card with the box file of another box, by its name or its pins, is refused
unless --replace-box is given.

Where the clinic's diary has a session of the patient that was stopped for a
warning sign, a session file with a neck glide is refused until the clinician
clears it (--cleared), or until the file changes. Give --into the same file as
for box back.

What the button does on the box:

` + buttonHelp,
		Example: `  glidepace box load first-week.yaml --to /media/card --box box-3.yaml --weeks 6
  glidepace box load first-week.yaml --to E:\ --due 2026-12-29
  glidepace box load first-week.yaml --to /media/card --weeks 6 --into clinic.db
  glidepace box load first-week.yaml --to /media/card --weeks 6 --cleared`,
		Args: cobra.ExactArgs(1),
		RunE: untilSignal(func(cmd *cobra.Command, args []string) error {
			return o.load(cmd.Context(), args[0], console.NewPrinter(cmd.OutOrStdout()))
		}),
	}
	f := cmd.Flags()
	f.StringVar(&o.to, "to", "", "the card's `folder`")
	f.StringVar(&o.boxFile, "box", "", "the box `file` (default: the one on the card)")
	f.BoolVar(&o.replaceBox, "replace-box", false, "replace the card's box file even if it belongs to another box")
	f.BoolVar(&o.lendAgain, "lend-again", false, "lend the box although it is still out with somebody")
	f.StringVar(&o.due, "due", "", "the `date` when the box is due back, as 2026-12-29")
	clinicFlag(cmd, &o.into, "into", "diary")
	f.BoolVar(&o.cleared, "cleared", false, "the clinician has cleared the neck glide after a warning sign")
	f.IntVar(&o.weeks, "weeks", 0, fmt.Sprintf("how many `weeks` until it is due back, 1 to %d", mostWeeks))
	return cmd
}

// load loads the card with a session file, and says what it did.
func (o loadOptions) load(ctx context.Context, file string, p *console.Printer) error {
	if err := folderFlag("to", o.to); err != nil {
		return err
	}
	if err := clinicFolder(o.into); err != nil {
		return err
	}
	clinic := diaryPath(o.into)
	t, err := live.Load(file)
	if err != nil {
		return err
	}
	s := t.Session()
	if s.Patient == "" {
		return live.Problem(file, s, "patient", errors.New("patient: a loan needs the clinic's code, such as patient: K-204, so that everybody knows whose diary comes back; never a name"))
	}
	known, err := checkCode(clinic, file, s)
	if err != nil {
		return err
	}
	l := loan.Contents{Source: file, Patient: s.Patient, Out: time.Now(), ReplaceBox: o.replaceBox, LendAgain: o.lendAgain, Cleared: o.cleared && t.Neck()}
	var where string
	if t.Neck() && !o.cleared {
		if where, err = neckAllowed(clinic, s, l.Out); err != nil {
			return err
		}
	}
	today := sessions.DateOf(l.Out)
	if l.Due, err = dueDate(o.due, o.weeks, s.Dose, today); err != nil {
		return err
	}
	if err := o.read(ctx, s, &l); err != nil {
		return err
	}
	if err := ctx.Err(); err != nil {
		return err
	}
	record, err := loan.Load(o.to, clinic, l)
	if err != nil {
		return err
	}
	p.Wrap("", fmt.Sprintf("%s is ready for %s: %q, due back %s.", record.Box, record.Patient, t.Title, record.Due))
	p.Wrap("", fmt.Sprintf("In %s: %s.", o.to, loadedWords(record)))
	if over := courseOver(s.Dose, today); !over.IsZero() && record.Due.DaysSince(over) > 0 {
		p.Wrap("", fmt.Sprintf("The last day of the course in the session file is %s, before the box is due back.", over.AddDays(-1)))
	}
	p.Wrap("", loanKept(clinic, o.into == "", known))
	if before := notBack(clinic, record); before != "" {
		p.Wrap("", before)
	}
	if where != "" {
		p.Wrap("", where)
	}
	p.Line("")
	newReport(file, t).writeCare(p)
	if t.Neck() {
		p.Wrap("", neckOnBox(s))
	}
	p.Wrap("", "The strap goes o"+strings.TrimPrefix(strapPlace(s), "O"))
	p.Line("Eject the card before you take it out.")
	return p.Err
}

// read reads the files that go onto the card.
func (o loadOptions) read(ctx context.Context, s *sessions.Session, l *loan.Contents) (err error) {
	if l.Session, err = safefile.Read(l.Source, fields.MaxSize); err != nil {
		return live.OpenError(l.Source, err)
	}
	if o.boxFile != "" {
		if _, err := loadBox(o.boxFile); err != nil {
			return err
		}
		if l.Box, err = safefile.Read(o.boxFile, fields.MaxSize); err != nil {
			return err
		}
	} else if _, err := os.Stat(filepath.Join(o.to, box.FileName)); errors.Is(err, fs.ErrNotExist) {
		return console.Usagef("there is no %s in %s: %s", box.FileName, o.to,
			cmp.Or(loan.Suggest(o.to), "say how the box is built with --box box.yaml"))
	}
	l.Recordings, err = recordingsOf(ctx, l.Source, s)
	return err
}

// notBack says which loan of the same box the clinic's diary has open, besides the one
// that was just made; "" if none.
func notBack(clinic string, made *loan.Record) string {
	d, err := diary.OpenExisting(clinic)
	if err != nil {
		return ""
	}
	defer d.Close()
	list, _, _ := d.Loans()
	for _, l := range slices.Backward(list) {
		if l.IsOut() && strings.EqualFold(l.Box, made.Box) && !l.Out.Equal(made.Out) {
			return fmt.Sprintf("%s went to %s on %s, and the card of that loan is not back: its line stays in the list.", l.Box, l.Patient, sessions.DateOf(l.Out))
		}
	}
	return ""
}

// checkCode returns an error where the clinic's diary has the patient code of a session
// file in other letters, as k-204 for K-204: they would be two patients. Known is
// false where there is no diary yet.
func checkCode(clinic, file string, s *sessions.Session) (known bool, err error) {
	d, err := diary.OpenExisting(clinic)
	if errors.As(err, new(*diary.NoDiaryError)) {
		return false, nil
	}
	if err != nil {
		return false, err
	}
	defer d.Close()
	code, _, err := d.PatientCode(s.Patient)
	if err == nil && code != s.Patient {
		err = live.Problem(file, s, "patient", fmt.Errorf("patient: %s is %s in the diary %s: write it the same way, or the two are different patients", s.Patient, code, clinic))
	}
	return true, err
}

// loanKept says where the loan was written down.
func loanKept(clinic string, byDefault, known bool) string {
	text := "The loan is written down in "
	if !known {
		text += "a new diary, "
	}
	text += clinic
	if byDefault {
		return text + " (the default without --into); glidepace box list shows it."
	}
	return text + "; glidepace box list --diary " + clinic + " shows it."
}

// neckAllowed returns an error where the clinic's diary at a path has a warning sign
// after which the session's neck glide waits until it is cleared. Else it says where
// it looked: it may be the wrong diary.
func neckAllowed(at string, s *sessions.Session, now time.Time) (where string, err error) {
	if _, err := os.Stat(at); errors.Is(err, fs.ErrNotExist) {
		return fmt.Sprintf("Warning signs of %s were not looked for: there was no diary %s. If the clinic has another one, bring the box back and name that one with --into.", s.Patient, at), nil
	}
	past, err := history.Read(diary.Options{}, at, s, sessions.DateOf(now))
	if err != nil {
		return "", fmt.Errorf("the clinic's diary says whether the neck glide may be done, but: %w", err)
	}
	for _, h := range progress.Gate(s, past.Entries, now) {
		if h.Kind == progress.NeckShut {
			return "", fmt.Errorf("%s: %s Leave it out of the session file, or load with --cleared", s.Patient, h.Message(now))
		}
	}
	where = fmt.Sprintf("Looked for warning signs of %s in %s: none", s.Patient, at)
	switch {
	case len(past.Entries) == 0:
		where += ": it has no session of this patient"
	case slices.ContainsFunc(past.Entries, func(e progress.Entry) bool { return e.EndedBy == sessions.WarningSign }):
		where += " that still rules out this file's neck glide" // cleared, or another file's
	}
	return where + ".", nil
}

// neckOnBox says what a stop means where a session holds a neck glide.
func neckOnBox(s *sessions.Session) string {
	then := "From then on the box leaves the neck glide out, until the card is back here."
	without := pacer.Prescribed(s)
	without.NoNeck = true
	if _, err := pacer.NewAt(s, without); errors.Is(err, pacer.ErrOnlyNeck) {
		then = "From then on the box begins no session, until the card is back here: the file holds nothing else."
	}
	return "The session holds a neck glide. A stop while it is paced ends the session as a warning sign: with one button nobody can say which it is. " +
		then + " Tell the patient."
}

// folderFlag refuses a flag that does not name a folder.
func folderFlag(flag, folder string) error {
	if folder == "" {
		return console.Usagef("which folder? Give the card's with --%s FOLDER", flag)
	}
	if info, err := os.Stat(folder); err != nil || !info.IsDir() {
		return console.Usagef("--%s %s: there is no such folder; is the card in?", flag, folder)
	}
	return nil
}

// courseOver is the day after the course of a dose; zero where it has no end.
func courseOver(dose *sessions.Dose, today sessions.Date) sessions.Date {
	switch {
	case dose == nil || dose.Days == 0:
		return sessions.Date{}
	case dose.Start.IsZero():
		return today.AddDays(dose.Days)
	}
	return dose.Start.AddDays(dose.Days)
}

// dueDate is when a box that goes out today is due back.
func dueDate(due string, weeks int, dose *sessions.Dose, today sessions.Date) (sessions.Date, error) {
	d, given := courseOver(dose, today), due != ""
	switch {
	case given && weeks != 0:
		return d, console.Usagef("--due and --weeks both say when the box is due back: give one of them")
	case given:
		var err error
		if d, err = sessions.ParseDate(due); err != nil {
			return d, console.Usagef("--due %q: a date is written as 2026-12-29", due)
		}
	case weeks != 0:
		if weeks < 1 || weeks > mostWeeks {
			return d, console.Usagef("--weeks %d: allowed is 1 to %d", weeks, mostWeeks)
		}
		return today.AddDays(7 * weeks), nil
	case d.IsZero():
		return d, console.Usagef("when is the box due back? Give --due DATE or --weeks N")
	}
	latest := today.AddDays(7 * mostWeeks)
	const say = "say when the box is due back, with --due DATE or --weeks N"
	switch {
	case given && d.DaysSince(today) < 0:
		return d, console.Usagef("--due %s is in the past: today is %s", d, today)
	case given && d.DaysSince(latest) > 0:
		return d, console.Usagef("--due %s is more than %d weeks ahead: the latest is %s", d, mostWeeks, latest)
	case d.DaysSince(today) < 0:
		return d, console.Usagef("the course in the session file ended before %s: %s", d, say)
	case d.DaysSince(latest) > 0:
		return d, console.Usagef("the course in the session file ends before %s, more than %d weeks ahead: %s", d, mostWeeks, say)
	}
	return d, nil
}

// recordingsOf reads the recordings that a session's voice uses. On the card
// they have the place beside the session file that they have here.
func recordingsOf(ctx context.Context, file string, s *sessions.Session) ([]loan.Recording, error) {
	if s.Sounds.Cues == "" || !s.Sounds.Parts.Voice || s.Sounds.Voice == "espeak-ng" {
		return nil, nil
	}
	folder := filepath.Clean(filepath.FromSlash(s.Sounds.Cues))
	if !filepath.IsLocal(folder) {
		return nil, live.Problem(file, s, "sounds.cues", errors.New("cues: a box takes only recordings in a folder beside the session file or below, such as cues: recordings"))
	}
	if _, _, err := live.TimeVoice(ctx, file, s); err != nil { // they can be heard
		return nil, err
	}
	language, err := live.Language(file, s)
	if err != nil {
		return nil, err
	}
	files, _, err := clips.FindRecordings(filepath.Join(filepath.Dir(file), folder), language.Cues(s), nil)
	if err != nil {
		return nil, err
	}
	var list []loan.Recording
	for _, name := range slices.Sorted(maps.Values(files)) {
		content, err := safefile.Read(name, loan.LargestRecording)
		if err != nil {
			return nil, err
		}
		list = append(list, loan.Recording{Path: path.Join(filepath.ToSlash(folder), filepath.Base(name)), Content: content})
	}
	return list, nil
}

// loadedWords names what was put onto a card.
func loadedWords(l *loan.Record) string {
	text := fmt.Sprintf("%s, %s, %s", box.FileName, l.Files.Session, l.Files.Diary)
	if n := len(l.Files.Recordings); n > 0 {
		text += ", " + sessions.Count(n, "recording")
	}
	return text + ", " + loan.RecordName
}
