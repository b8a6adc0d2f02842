package diary

import (
	"errors"
	"fmt"
	"strings"
	"time"
	"unicode/utf8"

	"glidepace/sessions/plaintext"
)

// Note is a line that somebody adds to a session.
type Note struct {
	Text    string    `json:"text"`             // that [CheckNote] allows
	Written time.Time `json:"written,omitzero"` // to the second; zero if not known, as from paper
}

const (
	maxNote    = 500  // characters of a note
	firstLater = 1e12 // number of the first event that is said after a session
)

// CheckNote returns what is wrong with the text of a note. It is one line of 1
// to 500 characters, without invisible ones and those that turn the direction of
// text.
func CheckNote(text string) error {
	switch {
	case strings.TrimSpace(text) == "":
		return errors.New("a note needs some text")
	case !utf8.ValidString(text):
		return errors.New("the note is not text in UTF-8")
	case strings.ContainsFunc(text, plaintext.Hidden):
		c, _ := utf8.DecodeRuneInString(text[strings.IndexFunc(text, plaintext.Hidden):])
		return fmt.Errorf("a note is one line of plain text; take out the character %U", c)
	case utf8.RuneCountInString(text) > maxNote:
		return fmt.Errorf("a note has up to %d characters; this has %d", maxNote, utf8.RuneCountInString(text))
	}
	return nil
}
