package scene

import (
	"strings"
	"unicode"
	"unicode/utf8"
)

// lower puts the first letter in lower case, so that the text can follow other
// words. An abbreviation stays as it is.
func lower(s string) string {
	first, n := utf8.DecodeRuneInString(s)
	if second, _ := utf8.DecodeRuneInString(s[n:]); unicode.IsUpper(second) {
		return s
	}
	return string(unicode.ToLower(first)) + s[n:]
}

// upper puts the first letter in upper case.
func upper(s string) string {
	first, n := utf8.DecodeRuneInString(s)
	if n == 0 {
		return s
	}
	return string(unicode.ToUpper(first)) + s[n:]
}

// Sentences splits a text.
func Sentences(text string) []string {
	list := strings.SplitAfter(strings.TrimSpace(text), ". ")
	for i, s := range list {
		list[i] = strings.TrimSpace(s)
	}
	return list
}
