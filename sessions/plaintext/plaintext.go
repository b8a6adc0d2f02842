// Package plaintext makes text that others wrote harmless. A title in a diary, a
// file name on a card or what another program says may hold what clears a
// terminal, begins a new line of a table or turns the direction of text. Here
// such text becomes one plain line. What a name in any language is written with
// stays.
package plaintext

import (
	"bytes"
	"fmt"
	"strings"
	"unicode"
	"unicode/utf16"
)

// Hidden reports whether c cannot be seen, or changes how the text around it is
// shown. Line breaks and tabs are among those.
func Hidden(c rune) bool {
	switch c {
	case '\u200C', '\u200D', '\u180E': // joiners and the Mongolian separator: some scripts are not written without them
		return false
	}
	return unicode.In(c, unicode.Cc, unicode.Cf, unicode.Zl, unicode.Zp, unicode.Noncharacter_Code_Point)
}

// Line returns text in one line of UTF-8. A line break or a tab becomes a space;
// another hidden character, or a byte that is no UTF-8, becomes U+FFFD, so that
// one sees that something was there.
func Line(text string) string {
	return strings.Map(func(c rune) rune {
		switch {
		case !Hidden(c):
			return c
		case unicode.IsSpace(c):
			return ' '
		}
		return unicode.ReplacementChar
	}, text)
}

// mostSaid is how much of what a program says is shown, in characters.
const mostSaid = 300

// Said is Line for what another program says, however much that is. It keeps the
// end, where programs say why they failed.
func Said(text string) string {
	line := []rune(Line(strings.TrimSpace(text)))
	if len(line) <= mostSaid {
		return string(line)
	}
	return "…" + string(line[len(line)-mostSaid+1:])
}

// JSON escapes the hidden characters within the strings of a JSON text. It means
// the same as before.
func JSON(text []byte) []byte {
	if !bytes.ContainsFunc(text, hiddenInJSON) {
		return text
	}
	var b bytes.Buffer
	for _, c := range string(text) {
		switch {
		case !hiddenInJSON(c):
			b.WriteRune(c)
		case c > 0xFFFF:
			high, low := utf16.EncodeRune(c)
			fmt.Fprintf(&b, `\u%04x\u%04x`, high, low)
		default:
			fmt.Fprintf(&b, `\u%04x`, c)
		}
	}
	return b.Bytes()
}

// hiddenInJSON leaves the white space between values as it is: within a string
// it is escaped already.
func hiddenInJSON(c rune) bool { return c != '\n' && c != '\t' && Hidden(c) }
