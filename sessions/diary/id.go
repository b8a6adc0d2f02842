package diary

import (
	"crypto/rand"
	"fmt"
	"strings"
)

// An id is ten characters of Crockford's base 32, which has no i, l, o and u.
// The first is a letter, so that no spreadsheet takes an id for a number:
// 22·32⁹, some 7.7e14 ids.
const (
	idLetters    = "abcdefghjkmnpqrstvwxyz0123456789" // the letters, then the digits
	firstLetters = 22                                 // of them may come first
	idLength     = 10
	idPrefix     = 4 // the fewest characters that name a session
)

// newID returns a random id.
func newID() string {
	var random [idLength]byte
	rand.Read(random[:]) // never fails
	return idOf(random[:])
}

// idOf makes an id of bytes, of which there must be enough.
func idOf(bytes []byte) string {
	id := []byte{idLetters[bytes[0]%firstLetters]}
	for _, b := range bytes[1:idLength] {
		id = append(id, idLetters[b%32])
	}
	return string(id)
}

// validID reports whether an id is of that form. It makes the name of a file.
func validID(id string) bool { return len(id) == idLength && strings.Trim(id, idLetters) == "" }

// IDError says that an id names no session, or more than one.
type IDError struct {
	Given   string
	Matches []string // the ids that begin like this: none, or several
}

func (e *IDError) Error() string {
	switch {
	case len(e.Matches) > 0:
		return fmt.Sprintf("session %q may be any of %s: give more of its id", e.Given, strings.Join(e.Matches, ", "))
	case len(e.Given) < idPrefix:
		return fmt.Sprintf("session %q: give at least %d characters of its id", e.Given, idPrefix)
	}
	return fmt.Sprintf("session %q is not in the diary", e.Given)
}

// Unknown reports whether no session has such an id.
func (e *IDError) Unknown() bool { return len(e.Matches) == 0 && len(e.Given) >= idPrefix }

// readID corrects letters that are no part of an id, as misread from paper.
var readID = strings.NewReplacer("o", "0", "i", "1", "l", "1")

// PatientError says that a patient code may be any of several in the diary, which
// differ only in capitals and small letters.
type PatientError struct {
	Given string
	Codes []string
}

func (e *PatientError) Error() string {
	return fmt.Sprintf("the diary has the patient codes %s: give one of them as it is written", strings.Join(e.Codes, ", "))
}
