package diary

import (
	"database/sql"
	"errors"
	"fmt"
	"strings"
	"time"
	"unicode"
	"unicode/utf8"
)

// Note is a line that somebody adds to a session.
type Note struct {
	Text    string    `json:"text"`             // as CheckNote allows
	Written time.Time `json:"written,omitzero"` // to the second; zero when not known, as from paper
}

// maxNote is the length of a note in characters, at most.
const maxNote = 500

// firstNote is the least number of a note among the events of a session.
const firstNote = 1e12

// CheckNote returns what is wrong with the text of a note: it is one line of 1
// to 500 characters, without any that cannot be seen or that turn the
// direction of text.
func CheckNote(text string) error {
	hidden := func(c rune) bool {
		return c != '\u200C' && c != '\u200D' && // joiners: some scripts are not written without them
			unicode.In(c, unicode.Cc, unicode.Cf, unicode.Zl, unicode.Zp, unicode.Noncharacter_Code_Point)
	}
	switch {
	case strings.TrimSpace(text) == "":
		return errors.New("a note needs some text")
	case !utf8.ValidString(text):
		return errors.New("the note is not text in UTF-8")
	case strings.ContainsFunc(text, hidden):
		c, _ := utf8.DecodeRuneInString(text[strings.IndexFunc(text, hidden):])
		return fmt.Errorf("a note is one line of plain text; take out the character %U", c)
	case utf8.RuneCountInString(text) > maxNote:
		return fmt.Errorf("a note has up to %d characters; this has %d", maxNote, utf8.RuneCountInString(text))
	}
	return nil
}

// Note adds a note to the session that id begins (as in [Diary.Show]),
// whether it has ended or not, and returns the session. at is zero where there
// is no clock. Errors are those of [CheckNote] and Show.
func (d *Diary) Note(id, text string, at time.Time) (Session, error) {
	text = strings.TrimSpace(text)
	if err := CheckNote(text); err != nil {
		return Session{}, err
	}
	s, err := d.Show(id)
	if err != nil {
		return Session{}, err
	}
	note := Event{Kind: Noted, Detail: Detail(Note{text, at.Truncate(time.Second)})}
	err = d.atomically(func(tx *sql.Tx) error {
		// Numbered by the moment, and far beyond what a session itself
		// numbers: it may still be asking how it felt. And so notes that were added to
		// two copies of a diary do not get in each other's way.
		var last int64
		if err := tx.QueryRow("SELECT max(seq) FROM events WHERE session = ?", s.ID).Scan(&last); err != nil {
			return err
		}
		return insertEvent(tx, s.ID, max(at.UnixMilli(), firstNote, last+1), note)
	})
	if err != nil {
		return Session{}, err
	}
	return d.Show(s.ID)
}
