package main

import (
	"bufio"
	"cmp"
	"fmt"
	"io"
	"slices"
	"strings"
	"time"

	"github.com/spf13/cobra"

	"glidepace/cmd/glidepace/internal/console"
	"glidepace/sessions"
	"glidepace/sessions/diary"
)

func boxListCommand() *cobra.Command {
	var path, form string
	var out bool
	cmd := &cobra.Command{
		Use:   "list",
		Short: "List which box is with whom, when it is due, and what is overdue",
		Long: `Lists the loans that the clinic's diary knows: what is overdue first, then what
is out, then what is lost or back. box load and box back write them there. A
loan of a box that was lent again before it came back still counts as out.`,
		Example: `  glidepace box list
  glidepace box list --diary clinic.db --out
  glidepace box list --format csv > loans.csv`,
		Args: cobra.NoArgs,
		RunE: func(cmd *cobra.Command, _ []string) error {
			if err := oneOf("format", form, "text", "json", "csv"); err != nil {
				return err
			}
			d, err := openDiary(path)
			if err != nil {
				return err
			}
			defer d.Close()
			loans, faults, err := d.Loans()
			if err != nil {
				return err
			}
			for _, f := range faults {
				console.Say(cmd.ErrOrStderr(), "%s%s", console.NoteLead, f)
			}
			lines := loanLines(loans, sessions.DateOf(time.Now()))
			if out {
				lines = slices.DeleteFunc(lines, func(l loanLine) bool { return l.State == loanBack || l.State == loanLost })
			}
			switch form {
			case "json":
				return console.WriteJSON(cmd.OutOrStdout(), lines)
			case "csv":
				return writeLoansCSV(cmd.OutOrStdout(), lines)
			}
			return writeLoans(cmd.OutOrStdout(), lines, diaryPath(path))
		},
	}
	formatFlag(cmd, &form, "text", "json", "csv")
	clinicFlag(cmd, &path, "diary", "into")
	cmd.Flags().BoolVar(&out, "out", false, "only what is not back, and not lost")
	return cmd
}

func boxLostCommand() *cobra.Command {
	var path, patient string
	var yes bool
	cmd := &cobra.Command{
		Use:   "lost BOX",
		Short: "Write down that a box is lost",
		Long: `Writes into the clinic's diary that a box which is out is lost. It names the
loan and asks first; --patient or --yes answers beforehand. The loan stays in
the list. If the box turns up, box back says that it is back.

It is the latest loan of the box. If the box was lent again before it came back,
--patient says which loan is meant.`,
		Example: `  glidepace box lost "Box 3" --diary clinic.db
  glidepace box lost "Box 3" --patient K-204 --diary clinic.db`,
		Args: cobra.ExactArgs(1),
		RunE: func(cmd *cobra.Command, args []string) error {
			d, err := openDiary(path)
			if err != nil {
				return err
			}
			defer d.Close()
			list, _, err := d.Loans()
			if err != nil {
				return err
			}
			l, err := toBeLost(list, args[0], patient, diaryPath(path))
			if err != nil {
				return err
			}
			p := console.NewPrinter(cmd.OutOrStdout())
			which := fmt.Sprintf("%s, lent to %s on %s and due %s", l.Box, l.Patient, sessions.DateOf(l.Out), l.Due)
			if patient == "" && !yes {
				p.Sentence(which + ".")
				answer, err := console.Ask(cmd.Context(), cmd.InOrStdin(), cmd.OutOrStdout(), "Write down that it is lost? y or n: ")
				if err != nil || !strings.EqualFold(answer, "y") && !strings.EqualFold(answer, "yes") {
					p.Line("Nothing was written.")
					return console.ExitError(console.ExitEarly)
				}
			}
			l.Lost = sessions.DateOf(time.Now())
			if err := d.KeepLoan(l); err != nil {
				return err
			}
			p.Sentence(which + ", is written down as lost. If it turns up, take it back with glidepace box back.")
			return p.Err
		},
	}
	clinicFlag(cmd, &path, "diary", "into")
	cmd.Flags().StringVar(&patient, "patient", "", "the loan to this patient `code`, in any case; asks nothing")
	cmd.Flags().BoolVar(&yes, "yes", false, "do not ask")
	return cmd
}

// toBeLost returns the latest loan of a box, to a patient or to anybody, if it is out.
func toBeLost(list []diary.Loan, box, patient, path string) (diary.Loan, error) {
	whose := ""
	if patient != "" {
		whose = " with " + patient
	}
	for _, l := range slices.Backward(list) {
		switch {
		case !strings.EqualFold(l.Box, box) || patient != "" && !strings.EqualFold(l.Patient, patient):
			continue
		case l.IsOut():
			return l, nil
		case !l.Lost.IsZero() && l.Back.IsZero():
			err := fmt.Errorf("%s, lent to %s on %s, is written down as lost already, since %s", l.Box, l.Patient, sessions.DateOf(l.Out), l.Lost)
			for _, other := range slices.Backward(list) {
				if other.IsOut() && strings.EqualFold(other.Box, box) {
					err = fmt.Errorf("%w; it is still out with %s too: if that loan is lost, add --patient %[2]s", err, other.Patient)
					break
				}
			}
			return l, console.Usagef("%w", err)
		}
	}
	return diary.Loan{}, console.Usagef("%.40q is not out%s, as far as the diary %s knows: glidepace box list shows which boxes are", box, whose, path)
}

// loanState is a word for where a box is.
type loanState string

// In the order of the list.
const (
	loanOverdue loanState = "overdue"
	loanOut     loanState = "out"
	loanUnknown loanState = "loading cut off" // the box may be lent, or not
	loanLost    loanState = "lost"
	loanBack    loanState = "back"
)

var loanStates = []loanState{loanOverdue, loanOut, loanUnknown, loanLost, loanBack}

// loanLine is one loan in the list.
type loanLine struct {
	Box       string    `json:"box"`
	Patient   string    `json:"patient"`
	Out       string    `json:"out"`
	Due       string    `json:"due"`
	State     loanState `json:"state"`
	Late      int       `json:"days_late"` // until it was back; until today while it is out
	Back      string    `json:"back,omitempty"`
	Lost      string    `json:"lost,omitempty"`
	LentAgain string    `json:"lent_again,omitempty"` // when the same box went out next, though it was not back
}

// loanLines says where each box is today, in the order of the list.
func loanLines(loans []diary.Loan, today sessions.Date) []loanLine {
	lines := make([]loanLine, len(loans))
	for i, l := range loans {
		line := loanLine{Box: l.Box, Patient: l.Patient, Out: sessions.DateOf(l.Out).String(), Due: l.Due.String()}
		for _, next := range loans[i+1:] { // they are in the order in which they went out
			if line.LentAgain == "" && l.IsOut() && next.Stage == diary.Lent && strings.EqualFold(next.Box, l.Box) {
				line.LentAgain = sessions.DateOf(next.Out).String()
			}
		}
		late := today
		switch {
		case !l.Back.IsZero():
			line.State, line.Back, late = loanBack, l.Back.String(), l.Back
		case !l.Lost.IsZero():
			line.State, line.Lost = loanLost, l.Lost.String()
		case l.Stage == diary.LoadingBegan:
			line.State, late = loanUnknown, l.Due
		case today.DaysSince(l.Due) > 0:
			line.State = loanOverdue
		default:
			line.State = loanOut
		}
		line.Late = max(0, late.DaysSince(l.Due))
		lines[i] = line
	}
	slices.SortStableFunc(lines, func(a, b loanLine) int {
		state := cmp.Compare(slices.Index(loanStates, a.State), slices.Index(loanStates, b.State))
		if a.State == loanBack {
			return cmp.Or(state, cmp.Compare(b.Back, a.Back)) // the latest first
		}
		return cmp.Or(state, cmp.Compare(a.Due, b.Due))
	})
	return lines
}

// words says where the box is.
func (l loanLine) words() string {
	late := ""
	if l.Late > 0 {
		late = ", " + sessions.Count(l.Late, "day") + " late"
	}
	switch l.State {
	case loanUnknown:
		return "loading was cut off: load the card again, or bring it back"
	case loanLost:
		return "lost since " + l.Lost
	case loanBack:
		return "back " + l.Back + late
	}
	if l.LentAgain != "" {
		late += "; lent again " + l.LentAgain
	}
	return string(l.State) + late
}

// writeLoansCSV writes a line a loan; see [diary.WriteRow] for its form.
func writeLoansCSV(w io.Writer, lines []loanLine) error {
	b := bufio.NewWriter(w)
	diary.WriteRow(b, "box", "patient", "out", "due", "state", "days_late", "back", "lost", "lent_again")
	for _, l := range lines {
		diary.WriteRow(b, l.Box, l.Patient, l.Out, l.Due, string(l.State), l.Late, l.Back, l.Lost, l.LentAgain)
	}
	return b.Flush()
}

func writeLoans(w io.Writer, lines []loanLine, path string) error {
	p := console.NewPrinter(w)
	if len(lines) == 0 {
		p.Sentence(fmt.Sprintf("No box is lent, as far as the diary %s knows.", path))
		return p.Err
	}
	n := map[loanState]int{}
	for _, l := range lines {
		n[l.State]++
	}
	p.Line("Boxes out: %d; overdue: %d.", n[loanOverdue]+n[loanOut], n[loanOverdue])
	p.Line("")
	t := console.NewTable(w)
	t.Row("BOX", "PATIENT", "OUT", "DUE", "WHERE IT IS")
	for _, l := range lines {
		t.Row(l.Box, l.Patient, l.Out, l.Due, l.words())
	}
	return cmp.Or(p.Err, t.Flush())
}
