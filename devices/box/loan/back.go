package loan

import (
	"cmp"
	"errors"
	"fmt"
	"io/fs"
	"slices"
	"time"

	"glidepace/devices/box"
	"glidepace/sessions"
	"glidepace/sessions/diary"
)

// Returned says what became of a card that was brought back.
type Returned struct {
	// Nothing says that there was nothing of a loan on the card; all else is
	// zero then.
	Nothing bool

	Record  *Record           // nil where the card had none, or one that cannot be read
	Session *sessions.Session // the session file's; nil where it had none that can be read

	// Merged says that all sessions on the card are in the clinic's diary.
	// NoDiary says that the card had no diary any more, or never had one.
	Merged, NoDiary bool

	// Again says that the card's diary was merged before, in a call that found
	// traces or was cut off.
	Again bool

	Sessions []diary.Session // the card's, as they now are in the clinic's diary, in its order
	Added    int             // of these, how many were not there before
	Extended int             // and how many were there with fewer entries

	Wiped  []string // files, by their paths on the card, with an error too
	Left   []string // with an error, those of the loan that are still there
	Looked int      // files left in the card's folder that were looked through
	Unread []string // files and folders that could not be, because they cannot be read
	Traces []Trace  // that were found
	Kept   bool     // because of them the record was kept

	// Volume is the top folder of the volume that the card's folder is on; ""
	// where it is not known. Outside says how many files there, outside of the
	// folder, were looked through: all of them unless Cut. Traces there have
	// their full path.
	Volume  string
	Outside int
	Cut     bool
}

// LostError says that the card's diary is gone or damaged, and nothing was
// wiped. MayBe is a file that may be the diary; "" where there is none.
type LostError struct{ Diary, MayBe string }

func (e *LostError) Error() string {
	text := fmt.Sprintf("the diary %s is gone or damaged; nothing was wiped: ", e.Diary)
	if e.MayBe != "" {
		return text + e.MayBe + " may be it: give it the diary's name, and bring the card back again"
	}
	return text + "look for it (a repair of the card may have put it into a folder FOUND.000)"
}

// UnknownLoanError says that the clinic's diary does not know the loan on a card: it may
// be the wrong diary. Box and Patient are "" where nothing on the card says them.
type UnknownLoanError struct {
	Clinic, Box, Patient string
	Out                  time.Time // zero where nothing says it
}

func (e *UnknownLoanError) Error() string {
	loan := "the loan on this card"
	if e.Patient != "" {
		loan = fmt.Sprintf("the loan of %s to %s", e.Box, e.Patient)
	}
	if !e.Out.IsZero() {
		loan += " on " + sessions.DateOf(e.Out).String()
	}
	return fmt.Sprintf("the diary %s knows nothing of %s", e.Clinic, loan)
}

// Return says how a card is brought back.
type Return struct {
	Today sessions.Date
	// WithoutDiary says that nobody expects a diary on the card.
	WithoutDiary bool
	// LoadedElsewhere says that the clinic's diary need not know the loan.
	LoadedElsewhere bool
}

// Back brings back the card at folder. It merges the card's diary into the
// clinic's. Once that is verified it writes there that the box is back today, wipes
// what belongs to the loan, and looks for traces of it in all that is left. The record
// goes last. Where traces are found it stays, so that the card is looked through again
// when it is brought back again.
//
// Back may be cut off at any moment, loses nothing, and goes on when it is called
// again. For that, a diary is wiped under another name, which stays as long as
// the record. So a diary under its own name always has to be merged, and a record
// without a diary under either name says that the diary was lost.
//
// The clinic's diary must be there already, not on the card, and know the loan: else it
// is likely to be another one, and the right one would show the box as out for ever. A
// card whose diary was lost is refused, too. [Return] may allow both. With an error, Back
// also returns what was done until then.
func Back(folder, clinic string, how Return) (*Returned, error) {
	r := &Returned{}
	c, err := openCard(folder)
	if err != nil {
		return r, err
	}
	defer c.close()
	if err := c.checkOutside(clinic); err != nil {
		return r, err
	}
	record, file, err := c.description()
	if err != nil {
		return r, err
	}
	left := leftoversOf(record, file)
	if err := c.checkAllOwn(left); err != nil {
		return r, nothingWiped(err)
	}
	there, err := c.there(left)
	if err != nil {
		return r, err
	}
	strays := c.strays(there)
	if record == nil && strays != nil {
		return r, nothingWiped(fmt.Errorf("the card has no loan record that can be read, and %s is a diary that its %s does not name: write diary: %[3]s into that file, or move the diary to a safe place",
			c.path(strays[0]), box.FileName, strays[0]))
	}
	if len(there) == 0 && !c.has(RecordName) {
		r.Nothing = true
		return r, nil
	}
	r.Record, r.Session = record, c.session(left.sessions)

	operation("open the clinic's diary")
	d, err := diary.OpenExisting(clinic)
	if err != nil {
		return r, nothingWiped(err)
	}
	defer d.Close()
	if !how.LoadedElsewhere {
		if err := r.checkKnown(d, clinic, file); err != nil {
			return r, nothingWiped(err)
		}
	}
	if err := r.merge(c, d, left.diaries); err != nil {
		return r, nothingWiped(err)
	}
	r.Again = r.NoDiary && slices.ContainsFunc(left.diaries, func(d string) bool { return c.has(merged(d)) })
	if r.NoDiary && !r.Again && !how.WithoutDiary && c.loaded(record, left) {
		lost := &LostError{Diary: c.path(left.diaries[0])}
		if strays != nil {
			lost.MayBe = c.path(strays[0])
		}
		return r, lost
	}
	if err := r.closeLoan(d, file, how.Today); err != nil {
		return r, nothingWiped(err)
	}
	r.Merged = true
	if err := r.clean(c, d, left); err != nil {
		return r, fmt.Errorf("all sessions are in %s, but the card is not wiped to the end: %w; once the card can be read and written, bring it back again", clinic, err)
	}
	return r, nil
}

func nothingWiped(err error) error { return fmt.Errorf("nothing was wiped: %w", err) }

// description reads the record and the box file, which say where on the card
// the files of the loan are. Of the two one may be nil.
func (c *card) description() (*Record, *box.File, error) {
	record, damaged := c.record()
	if damaged != nil && !errors.Is(damaged, errDamaged) {
		return nil, nil, nothingWiped(damaged)
	}
	file, err := c.boxFile()
	switch {
	case record != nil || err == nil:
		return record, file, nil
	case !errors.Is(err, fs.ErrNotExist):
		return nil, nil, err
	case damaged != nil:
		return nil, nil, nothingWiped(fmt.Errorf("%w; and there is no %s to say where the diary is: put the box's own there", damaged, box.FileName))
	}
	return nil, nil, fmt.Errorf("%s has neither a box file nor a loan record: %s", c.dir, cmp.Or(Suggest(c.dir), "give the card's folder"))
}

// loaded reports whether a card was loaded to the end, and so had a diary.
func (c *card) loaded(record *Record, left leftovers) bool {
	if record != nil {
		return !record.Loading
	}
	return c.has(RecordName) || slices.ContainsFunc(left.sessions, c.has)
}

// merge merges the card's diaries into the clinic's.
func (r *Returned) merge(c *card, clinic *diary.Diary, names []string) error {
	r.NoDiary = true
	var ids []string
	for _, name := range names {
		operation("merge " + name)
		m, err := clinic.Merge(c.path(name))
		if errors.As(err, new(*diary.NoDiaryError)) || errors.Is(err, diary.ErrEmpty) && c.blank(name) {
			continue
		}
		if err != nil {
			return toSafePlace(err, "bring the card back again")
		}
		found := slices.Concat(m.Added, m.Extended, m.There)
		if c.blank(name) && len(found) == 0 {
			continue // a diary that was loaded is never blank: it was damaged
		}
		r.NoDiary = false
		r.Added += len(m.Added)
		r.Extended += len(m.Extended)
		for _, s := range found {
			ids = append(ids, s.ID)
		}
	}
	var err error
	r.Sessions, err = clinic.ListIDs(ids)
	return err
}

// search returns what is to be looked for on the card: what names the patient,
// what was taken from the card, and what the clinic's diary has of the patient.
func (r *Returned) search(clinic *diary.Diary) (search, error) {
	look := search{}
	list := r.Sessions
	if r.Record != nil && r.Record.Patient != "" {
		look.add(r.Record.Patient, patientCode)
		more, err := clinic.List(diary.Filter{Patient: r.Record.Patient})
		if err != nil {
			return nil, err
		}
		list = slices.Concat(list, more)
	}
	if s := r.Session; s != nil {
		look.add(s.Patient, patientCode)
		look.add(s.Title, sessionTitle)
	}
	for _, s := range list {
		look.add(s.Patient, patientCode)
		look.add(s.Title, sessionTitle)
		look.add(s.ID, sessionID)
		for _, n := range s.Notes {
			look.add(n.Text, patientNote)
		}
	}
	return look, nil
}

// clean wipes what belongs to the loan, and looks for traces of it. A record
// without a patient code is of no use in looking again, and is always wiped.
func (r *Returned) clean(c *card, clinic *diary.Diary, left leftovers) (err error) {
	defer func() {
		if err != nil {
			there, _ := c.there(left)
			r.Left = slices.DeleteFunc(there, c.blank)
			if c.has(RecordName) {
				r.Left = append(r.Left, RecordName)
			}
		}
	}()
	look, err := r.search(clinic)
	if err != nil {
		return err
	}
	if r.Wiped, err = c.wipe(left); err != nil {
		return err
	}
	stay := []string{RecordName}
	for _, d := range left.diaries {
		stay = append(stay, merged(d))
	}
	l, err := look.look(c.root.FS(), limits{}, func(name string, _ fs.DirEntry) bool { return slices.Contains(stay, name) })
	if err != nil {
		return err
	}
	r.Looked, r.Traces, r.Unread = l.files, l.traces, l.unread
	r.Volume = volume(c.dir)
	if o, err := look.lookOutside(r.Volume, c.dir); err != nil {
		r.Volume = "" // it cannot be read
	} else {
		r.Outside, r.Cut = o.files, o.cut
		r.Traces, r.Unread = append(r.Traces, o.traces...), append(r.Unread, o.unread...)
	}
	if r.Traces != nil && r.Record != nil && r.Record.Patient != "" {
		r.Kept = true
		return nil
	}
	record, err := c.forget(left)
	r.Wiped = append(r.Wiped, record...)
	return err
}
