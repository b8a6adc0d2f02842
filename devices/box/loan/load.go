package loan

import (
	"bytes"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path"
	"path/filepath"
	"slices"
	"time"

	"glidepace/devices/box"
	"glidepace/sessions"
	"glidepace/sessions/diary"
	"glidepace/sessions/safefile"
)

// Contents is what a card is loaded with.
type Contents struct {
	Box        []byte // the box file; nil for the one that the card has
	ReplaceBox bool   // also where the card has that of another box
	Session    []byte // the session file, checked
	Source     string // its path; "" where it has none
	Patient    string // its patient code, not ""
	Recordings []Recording
	Out        time.Time     // now
	Due        sessions.Date // when the box is due back
	Cleared    bool          // the clinician has cleared the neck glide
	LendAgain  bool          // also where the clinic's diary has the box as out
}

// Recording is a sound file that the session's voice needs.
type Recording struct {
	Path    string // slash-separated, seen from the session file
	Content []byte
}

// NotBackError says why a card has to be brought back before it can be loaded.
type NotBackError struct{ Folder, Reason string }

func (e *NotBackError) Error() string { return e.Reason }

// BoxOutError says that the clinic's diary has the box as out, so that it may be another
// box that is to be lent.
type BoxOutError struct{ Loan diary.Loan }

func (e *BoxOutError) Error() string {
	return fmt.Sprintf("%s is still out with %s since %s, due %s", e.Loan.Box, e.Loan.Patient, sessions.DateOf(e.Loan.Out), e.Loan.Due)
}

// OtherBoxError says that the card has the box file of another box than the
// one to be loaded. Each is named with its pins.
type OtherBoxError struct{ OnCard, New string }

func (e *OtherBoxError) Error() string {
	return fmt.Sprintf("the card has the %s of %s, and the one to be loaded is of %s", box.FileName, e.OnCard, e.New)
}

// Load loads the card at folder: box file, session file, recordings, a blank
// diary, and in the end the record, which it returns. It writes the loan into the
// clinic's diary, which it makes if there is none. It refuses a card that is
// still lent, has a diary with sessions, or is not clean; a folder with a box's
// folder in it; a folder in which it would replace a file of no loan; and,
// without ReplaceBox, the box file of another box; and, without LendAgain, a box that
// is still out.
//
// The record says while loading goes on. A card on which it was cut off is not
// loaded, and can simply be loaded again: what was written is wiped first.
//
// The clinic's diary knows of the loan before the card does, and only then that the
// card was loaded to the end. Where that was cut off the next call puts it right.
func Load(folder, clinic string, l Contents) (*Record, error) {
	c, err := openCard(folder)
	if err != nil {
		return nil, err
	}
	defer c.close()
	if err := c.checkOutside(clinic); err != nil {
		return nil, err
	}
	before, err := c.recordBefore()
	if err != nil {
		return nil, errors.Join(err, c.confirm(clinic))
	}
	was, _ := c.boxFile() // a broken one is replaced, or refused below
	content, file, err := l.boxFile(c, was)
	if err != nil {
		return nil, err
	}
	record := &Record{
		Box: file.Name, Patient: l.Patient, Out: l.Out.Truncate(time.Second), Due: l.Due, Cleared: l.Cleared,
		Files: Files{Session: file.Session, Diary: file.Diary},
	}
	for _, r := range l.Recordings {
		record.Recordings = append(record.Recordings, path.Join(path.Dir(file.Session), r.Path))
	}
	if err := record.Files.check(); err != nil {
		return nil, err
	}

	left := leftoversOf(before, was, file)
	for _, l := range []leftovers{left, leftoversOf(record)} {
		if err := c.checkAllOwn(l); err != nil {
			return nil, err
		}
	}
	if err := c.checkFree(slices.Concat(left.sessions, record.Recordings), before, l.Source); err != nil {
		return nil, err
	}
	for _, d := range left.diaries {
		if err := c.checkUnused(d); err != nil {
			return nil, err
		}
	}
	operation("open the clinic's diary")
	d, err := diary.Open(clinic)
	if err != nil {
		return nil, err
	}
	defer d.Close()
	if !l.LendAgain {
		if err := checkNotOut(d, record.Box); err != nil {
			return nil, err
		}
	}
	if err := giveUp(d, before); err != nil {
		return nil, err
	}
	if _, err := c.wipe(left); err != nil {
		return nil, err
	}
	if _, err := c.forget(left); err != nil {
		return nil, err
	}
	return record, l.write(c, d, record, content)
}

// recordBefore returns the record of a card on which loading was cut off; nil
// where it has none. The error says why the card cannot be loaded.
func (c *card) recordBefore() (*Record, error) {
	before, err := c.record()
	switch {
	case errors.As(err, new(*NotOwnError)):
		return nil, err
	case err != nil:
		return nil, &NotBackError{c.dir, err.Error()}
	case before != nil && !before.Loading:
		return nil, &NotBackError{c.dir, fmt.Sprintf("the card in %s is lent to %s since %s, or was not clean when it came back", c.dir, before.Patient, sessions.DateOf(before.Out))}
	}
	if below := Suggest(c.dir); below != "" {
		return nil, fmt.Errorf("nothing is loaded into %s: %s If not, move it away", c.dir, below)
	}
	return before, nil
}

// boxFile returns the box file that the card is to have; was is what it has.
func (l Contents) boxFile(c *card, was *box.File) (content []byte, f *box.File, err error) {
	if content = l.Box; content == nil {
		content, err = c.read(box.FileName, largestText)
		if errors.Is(err, fs.ErrNotExist) {
			err = fmt.Errorf("the card has no box file: %w", err)
		}
		if err != nil {
			return nil, nil, err
		}
	}
	if f, err = box.Parse(c.path(box.FileName), bytes.NewReader(content)); err != nil {
		return nil, nil, err
	}
	if was != nil && !l.ReplaceBox && nameAndPins(was) != nameAndPins(f) {
		return nil, nil, &OtherBoxError{nameAndPins(was), nameAndPins(f)}
	}
	return content, f, nil
}

func nameAndPins(f *box.File) string {
	return fmt.Sprintf("%s (buzzer %s, button %s, light %s)", f.Name, f.Buzzer, f.Button, f.Light)
}

// checkFree returns an error where one of the files that loading replaces or
// wipes is there and is not of the loan before, or is the one to be loaded.
func (c *card) checkFree(names []string, before *Record, source string) error {
	var ours []string
	if before != nil {
		ours = append(before.Recordings, before.Session)
	}
	from, noSource := os.Stat(source)
	for _, name := range names {
		there, err := c.root.Stat(filepath.FromSlash(name))
		switch {
		case errors.Is(err, fs.ErrNotExist):
		case err != nil:
			return err
		case noSource == nil && os.SameFile(from, there):
			return fmt.Errorf("%s is where the card's own copy goes, which is replaced now and wiped when the box is back: move the file to a folder of yours and load it from there", source)
		case !slices.Contains(ours, name):
			return fmt.Errorf("%s is there already, and the card has no record of a loan that says whose it is: move it away, and load again", c.path(name))
		}
	}
	return nil
}

// checkUnused returns an error where a diary on the card has sessions, or may
// have some.
func (c *card) checkUnused(name string) error {
	d, err := diary.Options{Card: true}.OpenExisting(c.path(name))
	if errors.As(err, new(*diary.NoDiaryError)) {
		return nil
	}
	if err != nil {
		return toSafePlace(err, "load again")
	}
	defer d.Close()
	list, err := d.List(diary.Filter{})
	if err == nil && len(list) > 0 {
		err = &NotBackError{c.dir, fmt.Sprintf("the card's diary %s has sessions (%d)", c.path(name), len(list))}
	}
	return err
}

// toSafePlace adds what to do to the error of a file on the card that is no
// diary, or none that can be used.
func toSafePlace(err error, then string) error {
	if errors.As(err, new(*diary.PlaceError)) {
		return fmt.Errorf("%w; move it to a safe place, and %s", err, then)
	}
	return err
}

// write puts all on the card, and the loan into the clinic's diary.
func (l Contents) write(c *card, clinic *diary.Diary, record *Record, boxFile []byte) error {
	begun := *record
	begun.Loading = true
	if err := c.write(RecordName, begun.content(), 0o600); err != nil {
		return err
	}
	if old, err := c.read(box.FileName, largestText); err != nil || !bytes.Equal(old, boxFile) {
		if err := c.write(box.FileName, boxFile, 0o644); err != nil {
			return err
		}
	}
	if err := c.write(record.Session, l.Session, 0o600); err != nil {
		return err
	}
	for i, r := range l.Recordings {
		if err := c.write(record.Recordings[i], r.Content, 0o600); err != nil {
			return err
		}
	}
	blank, err := blankDiary()
	if err != nil {
		return err
	}
	if err := c.write(record.Diary, blank, 0o600); err != nil {
		return err
	}
	if err := keep(clinic, begun.loan()); err != nil {
		return err
	}
	if err := c.write(RecordName, record.content(), 0o600); err != nil {
		return err
	}
	if err := keep(clinic, record.loan()); err != nil {
		return fmt.Errorf("the card is loaded, but the clinic's diary does not know it: %w; once the diary can be written, try to load the card again: that is refused, and the diary knows", err)
	}
	return nil
}

// blankDiary returns the content of a diary without sessions. It is made beside other
// temporary files: in the making it has names that would not be found on a card.
func blankDiary() ([]byte, error) {
	folder, remove, err := safefile.TempFolder()
	if err != nil {
		return nil, err
	}
	defer remove()
	name := filepath.Join(folder, "diary.db")
	d, err := diary.Options{Card: true}.Open(name)
	if err != nil {
		return nil, err
	}
	if err := d.Close(); err != nil {
		return nil, err
	}
	return safefile.Read(name, largestDiary)
}
