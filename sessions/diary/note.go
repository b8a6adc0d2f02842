package diary

import (
	"database/sql"
	"errors"
	"fmt"
	"strings"
	"time"
	"unicode"
	"unicode/utf8"

	"glidepace/sessions"
)

// Note is a line that somebody adds to a session.
type Note struct {
	Text    string    `json:"text"`             // as CheckNote allows
	Written time.Time `json:"written,omitzero"` // to the second; zero when not known, as from paper
}

// maxNote is the length of a note in characters, at most.
const maxNote = 500

// firstLater is the least number, among the events of a session, of what is
// said later.
const firstLater = 1e12

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
	if err := d.later(s.ID, Event{}.With(Note{text, at.Truncate(time.Second)}), at); err != nil {
		return Session{}, err
	}
	return d.Show(s.ID)
}

// NextMorning adds to the session that id begins (as in [Diary.Show]) whether
// symptoms were worse until the morning after it. at is zero where there is no
// clock.
func (d *Diary) NextMorning(id string, how sessions.NextMorning, at time.Time) error {
	if how != sessions.Worse && how != sessions.NotWorse {
		return fmt.Errorf("diary: %q says nothing of the next morning", how)
	}
	id, err := d.resolve(id)
	if err != nil {
		return err
	}
	return d.later(id, Event{}.With(morning{how, at.Truncate(time.Second)}), at)
}

// later commits what is said of a session at a moment after it, zero where it
// is not known, whoever else writes to that session.
func (d *Diary) later(id string, e Event, at time.Time) error {
	return d.atomically(func(tx *sql.Tx) error {
		// Numbered by the moment, and far beyond what a session itself
		// numbers: it may still be asking how it felt. And so notes that were added to
		// two copies of a diary do not get in each other's way.
		var last int64
		if err := tx.QueryRow("SELECT max(seq) FROM events WHERE session = ?", id).Scan(&last); err != nil {
			return err
		}
		return insertEvent(tx, id, max(at.UnixMilli(), firstLater, last+1), e)
	})
}
