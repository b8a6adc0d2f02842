package loan

import (
	"cmp"
	"strings"

	"glidepace/devices/box"
	"glidepace/sessions"
	"glidepace/sessions/diary"
)

// loan returns the record's loan as the clinic's diary has it.
func (r *Record) loan() diary.Loan {
	l := diary.Loan{Box: r.Box, Patient: r.Patient, Out: r.Out, Due: r.Due, Stage: diary.Lent}
	if r.Loading {
		l.Stage = diary.LoadingBegan
	}
	return l
}

// keep writes a loan into the clinic's diary.
func keep(clinic *diary.Diary, l diary.Loan) error {
	operation("write the loan into the clinic's diary")
	return clinic.KeepLoan(l)
}

// giveUp says in the clinic's diary that the loading which a record on a card tells of
// was cut off, and the box not lent.
func giveUp(clinic *diary.Diary, record *Record) error {
	if record == nil {
		return nil
	}
	l, found, err := clinic.LoadingOf(record.Box, record.Out)
	if err != nil || !found {
		return err
	}
	l.Stage = diary.NotLoaded
	return keep(clinic, l)
}

// confirm says in the clinic's diary that a card was loaded to the end, if the diary
// knows of its loan and not of that.
func (c *card) confirm(clinic string) error {
	record, err := c.record()
	if err != nil || record == nil || record.Loading {
		return nil // then it is no loan that could be confirmed
	}
	d, err := diary.OpenExisting(clinic)
	if err != nil {
		return nil // it knows of no loan
	}
	defer d.Close()
	if _, found, err := d.LoadingOf(record.Box, record.Out); err != nil || !found {
		return err
	}
	return keep(d, record.loan())
}

// checkKnown returns an error where the clinic's diary does not know the loan. The record
// tells its box, its patient and its moment. Without one it is a loan of the box that the
// box file names, to the patient of the session file if there is one. A card that was not
// loaded to the end was not lent, so there is nothing to know.
func (r *Returned) checkKnown(clinic *diary.Diary, path string, file *box.File) error {
	unknown := &UnknownLoanError{Clinic: path}
	switch {
	case r.Record != nil && r.Record.Loading:
		return nil
	case r.Record != nil:
		unknown.Box, unknown.Patient, unknown.Out = r.Record.Box, r.Record.Patient, r.Record.Out
	default:
		unknown.Box = file.Name
		if r.Session != nil {
			unknown.Patient = r.Session.Patient
		}
	}
	list, _, err := clinic.Loans()
	if err != nil {
		return err
	}
	for _, l := range list {
		if strings.EqualFold(l.Box, unknown.Box) && cmp.Or(unknown.Patient, l.Patient) == l.Patient && (r.Record == nil || l.Out.Equal(r.Record.Out)) {
			return nil
		}
	}
	return unknown
}

// checkNotOut returns an error where the clinic's diary has a box as out.
func checkNotOut(clinic *diary.Diary, box string) error {
	l, found, err := clinic.LoanOf(box, "")
	if err == nil && found {
		err = &BoxOutError{l}
	}
	return err
}

// closeLoan says in the clinic's diary that the box is back. A loan that it does not
// know, from another computer, gets its line too. Where the card has no record that can
// be read, it is the patient's latest loan of the box.
func (r *Returned) closeLoan(clinic *diary.Diary, file *box.File, today sessions.Date) error {
	var l diary.Loan
	switch {
	case r.Record != nil && r.Record.Loading:
		return giveUp(clinic, r.Record)
	case r.Record != nil:
		l = r.Record.loan()
	case file == nil || r.Session == nil:
		return nil
	default:
		known, found, err := clinic.LoanOf(file.Name, r.Session.Patient)
		if err != nil || !found {
			return err
		}
		l = known
	}
	l.Back = today
	return keep(clinic, l)
}
