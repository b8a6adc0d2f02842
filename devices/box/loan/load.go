package loan

import (
	"bytes"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"slices"
	"time"

	"glidepace/devices/box"
	"glidepace/sessions"
	"glidepace/sessions/diary"
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
}

// Recording is a sound file that the session's voice needs.
type Recording struct {
	Path    string // slash-separated, seen from the session file
	Content []byte
}

// Load loads the card at folder: box file, session file, recordings, a blank
// diary, and in the end the loan record, which it returns. A card that is still
// lent, has a diary with sessions, or holds traces of a loan, is refused. So is
// a folder with a box's folder in it, one on which a file would be replaced that is not of a loan, and unless
// ReplaceBox says so the box file of another box.
//
// While it goes on the record says so. A card on which it was cut off is not
// loaded, and may simply be loaded again: what was written for the loan is
// wiped first.
func Load(folder string, l Contents) (*Record, error) {
	c, err := openCard(folder)
	if err != nil {
		return nil, err
	}
	defer c.root.Close()
	before, err := Read(folder)
	switch {
	case err != nil:
		return nil, fmt.Errorf("%w: %s", err, bringBack(folder))
	case before != nil && !before.Loading:
		return nil, fmt.Errorf("the card in %s is lent to %s since %s: %s", folder, before.Patient, sessions.DateOf(before.Out), bringBack(folder))
	}
	if c.has(AgainName) {
		return nil, fmt.Errorf("the card in %s may hold traces of the loan before: %s", folder, bringBack(folder))
	}
	if below := Suggest(folder); below != "" {
		return nil, fmt.Errorf("nothing is loaded into %s: %s If not, move it away", folder, below)
	}
	was, _ := c.boxFile() // a broken one is replaced, or refused below
	content := l.Box
	if content == nil {
		if content, err = c.root.ReadFile(box.FileName); err != nil {
			return nil, fmt.Errorf("the card has no box file: %w; give one with --box", err)
		}
	}
	file, err := box.Parse(c.path(box.FileName), bytes.NewReader(content))
	if err != nil {
		return nil, err
	}
	if was != nil && !l.ReplaceBox && wired(was) != wired(file) {
		return nil, fmt.Errorf("the card has the %s of %s, and the one to be loaded is of %s: give no --box to keep the card's, or --replace-box to replace it",
			box.FileName, wired(was), wired(file))
	}
	loan := &Record{Box: file.Name, Patient: l.Patient, Out: l.Out.Truncate(time.Second), Due: l.Due, Cleared: l.Cleared}
	loan.Files = Files{Session: file.Session, Diary: file.Diary}
	for _, r := range l.Recordings {
		loan.Files.Recordings = append(loan.Files.Recordings, beside(file, r.Path))
	}
	if err := loan.Files.check(); err != nil {
		return nil, err
	}

	left := leftoversOf(before, was, file)
	if err := c.spare(slices.Concat(left.sessions, loan.Files.Recordings), before, l.Source); err != nil {
		return nil, err
	}
	for _, d := range left.diaries {
		if err := c.noSessions(d); err != nil {
			return nil, err
		}
	}
	if _, err := c.wipe(left); err != nil {
		return nil, err
	}
	if _, err := c.forget(left); err != nil {
		return nil, err
	}
	return loan, l.write(c, loan, content)
}

// wired says which box it is, and how it is wired.
func wired(f *box.File) string {
	return fmt.Sprintf("%s (buzzer %s, button %s, light %s)", f.Name, f.Buzzer, f.Button, f.Light)
}

// spare returns an error where one of the files that loading replaces or wipes
// is there and is not of the loan before, or is the one to be loaded.
func (c *card) spare(names []string, before *Record, source string) error {
	var ours []string
	if before != nil {
		ours = append(before.Files.Recordings, before.Files.Session)
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

func bringBack(folder string) string {
	return "bring it back first, with glidepace box back --from " + folder + " --into DIARY"
}

// noSessions returns an error where a diary on the card has sessions, or may
// have some.
func (c *card) noSessions(name string) error {
	d, err := diary.Options{Card: true}.OpenExisting(c.path(name))
	var none *diary.NoDiaryError
	if errors.As(err, &none) {
		return nil
	}
	if err != nil {
		return withCure(err, "move it to a safe place, and load again")
	}
	defer d.Close()
	list, err := d.List(diary.Filter{})
	if err == nil && len(list) > 0 {
		err = fmt.Errorf("the card's diary %s has sessions (%d): %s", c.path(name), len(list), bringBack(c.dir))
	}
	return err
}

// write puts all on the card.
func (l Contents) write(c *card, loan *Record, boxFile []byte) error {
	begun := &Record{Loading: true, Files: loan.Files}
	if err := c.write(RecordName, begun.content(), 0o600); err != nil {
		return err
	}
	if old, err := c.root.ReadFile(box.FileName); err != nil || !bytes.Equal(old, boxFile) {
		if err := c.write(box.FileName, boxFile, 0o644); err != nil {
			return err
		}
	}
	if err := c.write(loan.Files.Session, l.Session, 0o600); err != nil {
		return err
	}
	for i, r := range l.Recordings {
		if err := c.write(loan.Files.Recordings[i], r.Content, 0o600); err != nil {
			return err
		}
	}
	operation("make the diary")
	d, err := diary.Options{Card: true}.Open(c.path(loan.Files.Diary))
	if err != nil {
		return withCure(err, "see to the card")
	}
	operation("close the diary")
	if err := d.Close(); err != nil {
		return err
	}
	return c.write(RecordName, loan.content(), 0o600)
}
