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
		Long: `Lists the loans that the clinic's diary knows: what is overdue first, then what is
out, then what is lost or back. box load and box back write them there. A loan of a
box that was lent again before it came back stays in the list.`,
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
			return writeLoans(cmd.OutOrStdout(), lines)
		},
	}
	formatFlag(cmd, &form, "text", "json", "csv")
	clinicFlag(cmd, &path, "diary", "into")
	cmd.Flags().BoolVar(&out, "out", false, "only what is not back, and not lost")
	return cmd
}

func boxLostCommand() *cobra.Command {
	var path string
	cmd := &cobra.Command{
		Use:   "lost BOX",
		Short: "Write down that a box is lost",
		Long: `Writes into the clinic's diary that a box which is out is lost. Its loan stays in
the list. If it turns up, box back says that it is back.

If the box was lent twice without coming back, it is the later loan that is lost;
a second time it is the earlier one.`,
		Example: `  glidepace box lost "Box 3" --diary clinic.db`,
		Args:    cobra.ExactArgs(1),
		RunE: func(cmd *cobra.Command, args []string) error {
			d, err := openDiary(path)
			if err != nil {
				return err
			}
			defer d.Close()
			l, found, err := d.LoanOf(args[0], "")
			if err != nil {
				return err
			}
			if !found {
				return console.Usagef("%.40q is not out, as far as the diary %s knows: glidepace box list shows which boxes are", args[0], diaryPath(path))
			}
			l.Lost = sessions.DateOf(time.Now())
			if err := d.KeepLoan(l); err != nil {
				return err
			}
			p := console.NewPrinter(cmd.OutOrStdout())
			p.Wrap("", fmt.Sprintf("%s, lent to %s on %s and due %s, is written down as lost. If it turns up, take it back with glidepace box back.",
				l.Box, l.Patient, sessions.DateOf(l.Out), l.Due))
			return p.Err
		},
	}
	clinicFlag(cmd, &path, "diary", "into")
	return cmd
}

// loanState is a word for where a box is.
type loanState string

// In the order of the list.
const (
	loanOverdue loanState = "overdue"
	loanOut     loanState = "out"
	loanUnknown loanState = "loading cut off" // the box may be lent, or not
	loanMissing loanState = "not brought back"
	loanLost    loanState = "lost"
	loanBack    loanState = "back"
)

var loanStates = []loanState{loanOverdue, loanOut, loanUnknown, loanMissing, loanLost, loanBack}

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
		case line.LentAgain != "":
			line.State = loanMissing
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
		late = sessions.Count(l.Late, "day") + " late"
	}
	switch l.State {
	case loanOverdue:
		return "overdue, " + late
	case loanUnknown:
		return "loading was cut off: load the card again, or bring it back"
	case loanMissing:
		return "not brought back; lent again " + l.LentAgain
	case loanLost:
		return "lost since " + l.Lost
	case loanBack:
		return strings.TrimSuffix("back "+l.Back+", "+late, ", ")
	}
	return string(l.State)
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

func writeLoans(w io.Writer, lines []loanLine) error {
	p := console.NewPrinter(w)
	if len(lines) == 0 {
		p.Line("No box is lent.")
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
