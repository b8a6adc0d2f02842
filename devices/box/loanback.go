package box

import (
	"bytes"
	"errors"
	"fmt"
	"io/fs"
	"os"
	slashed "path"
	"path/filepath"
	"slices"

	"glidepace/sessions"
	"glidepace/sessions/diary"
)

// Returned says what became of a card that was brought back.
type Returned struct {
	// Nothing says that there was nothing of a loan on the card; all else is
	// zero then.
	Nothing bool

	Loan    *Loan             // nil where the card had no record, or one that cannot be read
	Session *sessions.Session // the session file's; nil where it had none that can be read

	// Merged says that all sessions on the card are in the clinic's diary.
	// NoDiary says that there were none for want of a diary: it was wiped or
	// moved before, or never made.
	Merged, NoDiary bool

	Sessions []diary.Session // the card's, as they now are in the clinic's diary, in its order
	Added    int             // of these, how many were not there before
	Extended int             // and how many were there with fewer entries

	Wiped  []string // files, by their paths on the card
	Looked int      // files that are left on the card, all looked through
	Traces []Trace  // that were found in them
}

// Back brings back the card at folder: merges its diary into the clinic's, and
// once that is verified wipes what belongs to the loan, and looks through all
// that is left for traces of it. The loan record goes last. A diary is wiped
// under another name, so that one under its own name always is one to merge.
// So it may be cut off anywhere, loses nothing, and goes on when it is called
// again.
//
// The clinic's diary is made where there is none at the path. It may not be on
// the card. With an error, what was done until then is returned too.
func Back(folder, clinic string) (*Returned, error) {
	r := &Returned{}
	c, err := openCard(folder)
	if err != nil {
		return r, err
	}
	defer c.root.Close()
	if err := c.outside(clinic); err != nil {
		return r, err
	}
	loan, _ := ReadLoan(folder) // where it cannot be read, the box file says enough
	file, err := c.boxFile()
	switch {
	case loan != nil || err == nil:
	case errors.Is(err, fs.ErrNotExist):
		return r, fmt.Errorf("%s has neither a box file nor a loan record: give the card's folder", folder)
	default:
		return r, err
	}
	left := newLeftovers(loan, file)
	there, err := c.there(left)
	if err != nil {
		return r, err
	}
	if len(there) == 0 && !c.has(LoanName) {
		r.Nothing = true
		return r, nil
	}
	r.Loan = loan
	r.Session = c.session(left)

	operation("open the clinic's diary")
	d, err := diary.Open(clinic)
	if err != nil {
		return r, err
	}
	defer d.Close()
	if err := r.merge(c, d, left.diaries); err != nil {
		return r, err
	}
	look, err := r.search(d)
	if err != nil {
		return r, err
	}
	if r.Wiped, err = c.wipe(left); err == nil {
		r.Looked, r.Traces, err = c.look(look)
	}
	if err == nil && c.has(LoanName) {
		r.Wiped = append(r.Wiped, LoanName)
		err = c.wipeFile(LoanName)
	}
	if err != nil {
		err = fmt.Errorf("the patient's data is still on the card, while all sessions are in %s: %w; once the card can be read and written, bring it back again", clinic, err)
	}
	return r, err
}

// outside returns an error where the clinic's diary is on the card.
func (c *card) outside(clinic string) error {
	card, err := filepath.Abs(c.dir)
	if err != nil {
		return err
	}
	if clinic, err = filepath.Abs(clinic); err != nil {
		return err
	}
	for dir := filepath.Dir(clinic); ; dir = filepath.Dir(dir) {
		one, err1 := os.Stat(dir)
		two, err2 := os.Stat(card)
		if err1 == nil && err2 == nil && os.SameFile(one, two) {
			return fmt.Errorf("the clinic's diary %s would be on the card: give another place with --into", clinic)
		}
		if dir == filepath.Dir(dir) {
			return nil
		}
	}
}

// boxFile reads the card's box file. The error is fs.ErrNotExist where there
// is none.
func (c *card) boxFile() (*File, error) {
	text, err := c.root.ReadFile(FileName)
	if err != nil {
		return nil, err
	}
	return Parse(c.path(FileName), bytes.NewReader(text))
}

// beside returns the path on the card of what is seen from its session file.
func (f *File) beside(name string) string { return slashed.Join(slashed.Dir(f.Session), name) }

// session reads the card's session file, nil where that does not work.
func (c *card) session(left leftovers) *sessions.Session {
	for _, name := range left.sessions {
		if text, err := c.root.ReadFile(name); err == nil {
			if s, _ := sessions.Parse(name, bytes.NewReader(text)); s != nil {
				return s
			}
		}
	}
	return nil
}

// merge merges the card's diaries into the clinic's.
func (r *Returned) merge(c *card, clinic *diary.Diary, names []string) error {
	diaries := 0
	ids := map[string]bool{}
	for _, name := range names {
		operation("merge " + name)
		m, err := clinic.Merge(c.path(name))
		var none *diary.NoDiaryError
		if errors.As(err, &none) {
			continue
		}
		if err != nil {
			return fmt.Errorf("nothing was wiped: %w", err)
		}
		diaries++
		r.Added += len(m.Added)
		r.Extended += len(m.Extended)
		for _, s := range slices.Concat(m.Added, m.Extended, m.There) {
			ids[s.ID] = true
		}
	}
	r.Merged, r.NoDiary = true, diaries == 0
	list, err := clinic.List(diary.Filter{})
	if err != nil {
		return err
	}
	r.Sessions = slices.DeleteFunc(list, func(s diary.Session) bool { return !ids[s.ID] })
	return nil
}

const patientCode = "the patient code"

// search returns what is to be looked for on the card: what names the patient,
// and what was taken from the card, now or before.
func (r *Returned) search(clinic *diary.Diary) (search, error) {
	var look search
	list := r.Sessions
	if r.Loan != nil && r.Loan.Patient != "" {
		look.add(r.Loan.Patient, patientCode)
		more, err := clinic.List(diary.Filter{Patient: r.Loan.Patient})
		if err != nil {
			return nil, err
		}
		list = slices.Concat(list, more)
	}
	if s := r.Session; s != nil {
		look.add(s.Patient, patientCode)
		look.add(s.Title, "the session's title")
	}
	for _, s := range list {
		look.add(s.Patient, patientCode)
		look.add(s.Title, "the session's title")
		look.add(s.ID, "the ID of a session")
		for _, n := range s.Notes {
			look.add(n.Text, "a note")
		}
	}
	return look, nil
}
