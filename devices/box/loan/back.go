package loan

import (
	"bytes"
	"cmp"
	"errors"
	"fmt"
	"io/fs"
	"os"
	slashed "path"
	"path/filepath"
	"slices"

	"glidepace/devices/box"
	"glidepace/sessions"
	"glidepace/sessions/diary"
)

// Returned says what became of a card that was brought back.
type Returned struct {
	// Nothing says that there was nothing of a loan on the card; all else is
	// zero then.
	Nothing bool

	Record  *Record           // nil where the card had no record, or one that cannot be read
	Session *sessions.Session // the session file's; nil where it had none that can be read

	// Merged says that all sessions on the card are in the clinic's diary.
	// NoDiary says that there were none for want of a diary: it was wiped or
	// moved before, or never made.
	Merged, NoDiary bool

	New bool // there was no diary at the clinic's path: it was made

	// Again says that this is one more look after traces were found.
	Again bool

	Sessions []diary.Session // the card's, as they now are in the clinic's diary, in its order
	Added    int             // of these, how many were not there before
	Extended int             // and how many were there with fewer entries

	Wiped  []string // files, by their paths on the card, with an error too
	Left   []string // with an error, those of the loan that are still there
	Looked int      // files left in the card's folder that were looked through
	Unread []string // files and folders that could not be, for they cannot be read
	Traces []Trace  // that were found

	// Volume is the top folder of the volume that the card's folder is on; ""
	// where it is not known. Outside of the folder so many files were looked
	// through, all of them unless Cut. Traces there have their full path.
	Volume  string
	Outside int
	Cut     bool
}

// Back brings back the card at folder: merges its diary into the clinic's, and
// once that is verified wipes what belongs to the loan, and looks through all
// that is left for traces of it. The loan record goes last. A diary is wiped
// under another name, so that one under its own name always is one to merge,
// and that name stays as long as the record: a record without either says that
// the diary was lost. So it may be cut off anywhere, loses nothing, and goes on
// when it is called again.
//
// Where traces are found, what was found is kept on the card in place of the
// record, and looked for whenever the card is brought back, until it is gone.
//
// A card whose diary was lost is refused, unless withoutDiary says that there
// is none to wait for. The clinic's diary is made where there is none at the
// path. It may not be on the card. With an error, what was done until then is
// returned too.
func Back(folder, clinic string, withoutDiary bool) (*Returned, error) {
	r := &Returned{}
	c, err := openCard(folder)
	if err != nil {
		return r, err
	}
	defer c.root.Close()
	if err := c.outside(clinic); err != nil {
		return r, err
	}
	loan, damaged := Read(folder)
	if damaged != nil && !errors.Is(damaged, errDamaged) {
		return r, nothingWiped(damaged)
	}
	again, err := c.readAgain()
	if err != nil {
		return r, nothingWiped(err)
	}
	file, err := c.boxFile()
	switch {
	case loan != nil || again != nil || err == nil:
	case !errors.Is(err, fs.ErrNotExist):
		return r, err
	case damaged != nil:
		return r, nothingWiped(fmt.Errorf("%w; and there is no %s to say where the diary is: put the box's own there", damaged, box.FileName))
	default:
		return r, fmt.Errorf("%s has neither a box file nor a loan record: %s", folder, cmp.Or(Suggest(folder), "give the card's folder"))
	}
	left := leftoversOf(loan, file)
	there, err := c.there(left)
	if err != nil {
		return r, err
	}
	if loan == nil && again == nil {
		if strays := c.strays(there); strays != nil {
			return r, nothingWiped(fmt.Errorf("the card has no loan record that can be read, and %s is a diary that its %s does not name: write diary: %[3]s into that file, or move the diary to a safe place",
				c.path(strays[0]), box.FileName, strays[0]))
		}
	}
	if len(there) == 0 && !c.has(RecordName) && again == nil {
		r.Nothing = true
		return r, nil
	}
	r.Record, r.Again = loan, again != nil
	r.Session = c.session(left)

	operation("open the clinic's diary")
	_, absent := os.Stat(clinic)
	d, err := diary.Open(clinic)
	if err != nil {
		return r, err
	}
	r.New = errors.Is(absent, fs.ErrNotExist)
	defer d.Close()
	if err := r.merge(c, d, left.diaries); err != nil {
		return r, nothingWiped(err)
	}
	if r.NoDiary && !withoutDiary && !r.Again && c.lost(loan, left) {
		return r, c.lostError(left, there)
	}
	r.Merged = true
	look, err := r.search(d, again)
	if err == nil {
		err = r.wipe(c, left, look, again)
	}
	if err != nil {
		r.Left, _ = c.there(left)
		r.Left = slices.DeleteFunc(r.Left, c.blank)
		for _, name := range []string{RecordName, AgainName} {
			if c.has(name) {
				r.Left = append(r.Left, name)
			}
		}
		return r, fmt.Errorf("the card is not wiped to the end, while all sessions are in %s: %w; once the card can be read and written, bring it back again", clinic, err)
	}
	return r, nil
}

func nothingWiped(err error) error { return fmt.Errorf("nothing was wiped: %w", err) }

// lost reports whether a card without a diary should have one: every loaded
// card has, and one that was merged leaves a sign until the record is wiped.
func (c *card) lost(loan *Record, left leftovers) bool {
	if loan != nil && loan.Loading || slices.ContainsFunc(left.diaries, func(d string) bool { return c.has(merged(d)) }) {
		return false
	}
	return c.has(RecordName) || slices.ContainsFunc(left.sessions, c.has)
}

// lostError says that the diary was lost, and what may be it.
func (c *card) lostError(left leftovers, there []string) error {
	text := fmt.Sprintf("the diary %s is gone or damaged; nothing was wiped", c.path(left.diaries[0]))
	if strays := c.strays(there); strays != nil {
		return fmt.Errorf("%s: %s may be it: give it the diary's name, and bring the card back again", text, c.path(strays[0]))
	}
	return fmt.Errorf("%s: look for it (a repair of the card may have put it into a folder FOUND.000); where nothing can be found, go on with --without-diary", text)
}

// wipe wipes what belongs to the loan, and looks for traces of it.
func (r *Returned) wipe(c *card, left leftovers, look, again search) (err error) {
	if r.Wiped, err = c.wipe(left); err != nil {
		return err
	}
	except := []string{RecordName, AgainName}
	for _, d := range left.diaries {
		except = append(except, merged(d))
	}
	l, err := look.look(c.root.FS(), limits{}, func(name string, _ fs.DirEntry) bool { return slices.Contains(except, name) })
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
		for _, t := range o.texts {
			l.texts.add(t.text, t.what)
		}
	}
	records := []string{AgainName}
	if r.Traces != nil {
		for _, t := range l.texts {
			again.add(t.text, t.what)
		}
		if err := c.lookAgainFor(again); err != nil {
			return err
		}
		records = nil
	}
	wiped, err := c.forget(left, records...)
	r.Wiped = append(r.Wiped, wiped...)
	return err
}

// outside returns an error where the clinic's diary is on the card.
func (c *card) outside(clinic string) error {
	dir, err := filepath.Abs(clinic)
	if err != nil {
		return err
	}
	for { // up to what is there
		if real, err := filepath.EvalSymlinks(dir); err == nil {
			dir = real
			break
		}
		if dir == filepath.Dir(dir) {
			return nil
		}
		dir = filepath.Dir(dir)
	}
	onCard := volume(c.dir) != "" && sameVolume(dir, c.dir)
	for card, err := os.Stat(c.dir); err == nil && !onCard; dir = filepath.Dir(dir) {
		one, err := os.Stat(dir)
		onCard = err == nil && os.SameFile(one, card)
		if dir == filepath.Dir(dir) {
			break
		}
	}
	if onCard {
		return fmt.Errorf("the clinic's diary %s would be on the card: give another place with --into", clinic)
	}
	return nil
}

// boxFile reads the card's box file. The error is fs.ErrNotExist where there
// is none.
func (c *card) boxFile() (*box.File, error) {
	text, err := c.root.ReadFile(box.FileName)
	if err != nil {
		return nil, err
	}
	return box.Parse(c.path(box.FileName), bytes.NewReader(text))
}

// beside returns the path on the card of what is seen from its session file.
func beside(f *box.File, name string) string { return slashed.Join(slashed.Dir(f.Session), name) }

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
			return withCure(err, "move it to a safe place, and bring the card back again")
		}
		if c.blank(name) && len(m.Added)+len(m.Extended)+len(m.There) == 0 {
			continue // a diary that was loaded is never blank: it was damaged
		}
		diaries++
		r.Added += len(m.Added)
		r.Extended += len(m.Extended)
		for _, s := range slices.Concat(m.Added, m.Extended, m.There) {
			ids[s.ID] = true
		}
	}
	r.NoDiary = diaries == 0
	list, err := clinic.List(diary.Filter{})
	if err != nil {
		return err
	}
	r.Sessions = slices.DeleteFunc(list, func(s diary.Session) bool { return !ids[s.ID] })
	return nil
}

const patientCode = "the patient code"

// search returns what is to be looked for on the card: what names the patient,
// what was taken from the card, now or before, and what was found before.
func (r *Returned) search(clinic *diary.Diary, again search) (search, error) {
	look := slices.Clone(again)
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
