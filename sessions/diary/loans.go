//go:build !js

package diary

import (
	"cmp"
	"database/sql"
	"fmt"
	"slices"
	"strings"
	"time"

	"glidepace/sessions"
)

// Loan is the loan of a box, as the clinic's diary knows it. Box, patient and the
// moment it went out tell it from all others.
type Loan struct {
	Box, Patient string
	Out          time.Time     // when the card was loaded, with the local offset, kept to the second and the minute
	Due          sessions.Date // when the box is due back
	Stage        LoanStage
	Back         sessions.Date // when the box came back; zero if it did not
	Lost         sessions.Date // when somebody first said that it is lost; zero if nobody did
}

// LoanStage says how far the loading of a card came. A stage only ever rises.
type LoanStage int

const (
	LoadingBegan LoanStage = iota // nobody knows whether the card was loaded to the end
	NotLoaded                     // it was not: the box was not lent
	Lent
)

// IsOut reports whether the box is with the patient, as far as anybody knows.
func (l Loan) IsOut() bool { return l.Stage == Lent && l.Back.IsZero() && l.Lost.IsZero() }

// loanColumns are the columns of a loan, as loan reads them.
const loanColumns = `box, patient, "out", offset_min, due, stage, back, lost`

// joinLoan says what becomes of two accounts of one loan. It is the same in whichever
// order they come, and however often: the later stage, the first day.
const joinLoan = ` ON CONFLICT DO UPDATE SET offset_min = max(offset_min, excluded.offset_min),
	due = max(due, excluded.due), stage = max(stage, excluded.stage),
	back = coalesce(min(back, excluded.back), back, excluded.back),
	lost = coalesce(min(lost, excluded.lost), lost, excluded.lost)`

const maxBox = 40 // characters of a box's name

func (r *row) loan() Loan {
	l := Loan{Box: r.text("box", maxBox), Patient: r.text("patient", maxText)}
	out := r.known("out", layout)
	l.Out = inZone(out, r.zone())
	l.Due = sessions.DateOf(r.known("due", time.DateOnly))
	l.Stage = LoanStage(r.between("stage", int64(LoadingBegan), int64(Lent)))
	l.Back, l.Lost = sessions.DateOf(r.moment("back", time.DateOnly)), sessions.DateOf(r.moment("lost", time.DateOnly))
	return l
}

// known reads a time that must be known.
func (r *row) known(column, layout string) time.Time {
	if r.values[0] == nil {
		r.values[0] = "" // no time
	}
	return r.moment(column, layout)
}

// KeepLoan commits what is known of a loan. What the diary knows of it already stays.
func (d *Diary) KeepLoan(l Loan) error {
	return d.atomically(func(tx *sql.Tx) error {
		_, offset := l.Out.Zone()
		known := func(day sessions.Date) any {
			if day.IsZero() {
				return nil
			}
			return day.String()
		}
		_, err := tx.Exec("INSERT INTO loans ("+loanColumns+") VALUES (?, ?, ?, ?, ?, ?, ?, ?)"+joinLoan,
			l.Box, l.Patient, stamp(l.Out.Truncate(time.Second)), offset/60, l.Due.String(), l.Stage, known(l.Back), known(l.Lost))
		if err != nil {
			return err
		}
		return d.gone()
	})
}

// Loans returns the loans of the clinic, the latest last; not those of cards that
// were not loaded to the end. Faults says what cannot be read, a line each.
func (d *Diary) Loans() (list []Loan, faults []string, err error) {
	err = each(d.db, func(r *row) {
		l := r.loan()
		for _, f := range r.faults {
			faults = append(faults, fmt.Sprintf("the loan of %.40q to %.40q cannot be read in full: %s", l.Box, l.Patient, f))
		}
		list = append(list, l)
	}, "SELECT "+loanColumns+` FROM loans WHERE stage <> ? ORDER BY "out", box, patient`, NotLoaded)
	return list, faults, d.explain(err)
}

// LoanOf returns the latest loan of a box, whose name may be in any case, that is
// out: to a patient, or to anybody if that is "".
func (d *Diary) LoanOf(box, patient string) (loan Loan, found bool, err error) {
	list, _, err := d.Loans()
	for _, l := range slices.Backward(list) {
		if l.IsOut() && strings.EqualFold(l.Box, box) && cmp.Or(patient, l.Patient) == l.Patient {
			return l, true, err
		}
	}
	return Loan{}, false, err
}

// LoadingOf returns the loan whose loading began at that moment; found is false if
// it is not known.
func (d *Diary) LoadingOf(box string, out time.Time) (loan Loan, found bool, err error) {
	list, _, err := d.Loans()
	for _, l := range list {
		if l.Stage == LoadingBegan && l.Box == box && l.Out.Equal(out.Truncate(time.Second)) {
			return l, true, err
		}
	}
	return Loan{}, false, err
}

// addLoans joins the other diary's loans with those of this one.
const addLoans = "INSERT INTO main.loans (" + loanColumns + ") SELECT " + loanColumns + " FROM other.loans WHERE true" + joinLoan

// missingLoans counts the loans of the other diary that this one knows less of.
const missingLoans = `(SELECT count(*) FROM other.loans AS o LEFT JOIN main.loans AS l USING (box, patient, "out")
	WHERE l.stage IS NULL OR l.stage < o.stage OR l.due < o.due OR l.back IS NULL AND o.back IS NOT NULL OR l.back > o.back
	OR l.lost IS NULL AND o.lost IS NOT NULL OR l.lost > o.lost)`
