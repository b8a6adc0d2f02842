package fields

import (
	"cmp"
	"errors"
	"fmt"
	"slices"
	"strconv"
	"strings"
	"unicode/utf8"

	"github.com/agext/levenshtein"

	"glidepace/sessions/plaintext"
)

// Place is a place in a file. Lines and columns count from 1, columns in characters.
type Place struct{ Line, Column int }

// Problem is one thing that is wrong with a file.
type Problem struct {
	Place
	Text string // what is wrong, the value quoted, what is allowed; one line
}

// Error is everything that is wrong with one file.
type Error struct {
	File     string    // as the caller named it
	Problems []Problem // at least one; sorted by place
}

// maxShown keeps a file that is something else from flooding the terminal.
const maxShown = 100

// Error writes a line for each of the first 100 problems, FILE:LINE:COL: what is wrong.
func (e *Error) Error() string {
	var b strings.Builder
	file := plaintext.Line(e.File)
	for i, p := range e.Problems {
		if i > 0 {
			b.WriteByte('\n')
		}
		if i == maxShown {
			fmt.Fprintf(&b, "%s: %d more problems are not shown", file, len(e.Problems)-i)
			break
		}
		fmt.Fprintf(&b, "%s:%d:%d: %s", file, p.Line, p.Column, plaintext.Line(p.Text))
	}
	return b.String()
}

// Join puts the problems of several errors with the same file into one *Error. Nil errors
// are left out; it returns nil where nothing is left. An error that is no *Error is
// returned alone.
func Join(file string, errs ...error) error {
	var all []Problem
	for _, err := range errs {
		var e *Error
		switch {
		case errors.As(err, &e):
			all = append(all, e.Problems...)
		case err != nil:
			return err
		}
	}
	return newError(file, all)
}

// newError sorts the problems by place. It returns nil where there are none.
func newError(file string, problems []Problem) error {
	if len(problems) == 0 {
		return nil
	}
	slices.SortStableFunc(problems, func(a, b Problem) int {
		return cmp.Or(cmp.Compare(a.Line, b.Line), cmp.Compare(a.Column, b.Column))
	})
	return &Error{file, problems}
}

// Quote quotes a value from a file for a message: in one line, cut to 40 characters, and
// what does not print escaped.
func Quote(s string) string {
	const most = 40
	if utf8.RuneCountInString(s) > most {
		s = string([]rune(s)[:most-1]) + "…"
	}
	return strconv.Quote(s)
}

// DidYouMean returns " (did you mean …?)" with the options that begin with a word, or
// with the one nearest to a misspelt word; "" where none is near.
func DidYouMean(word string, options []string) string {
	word = strings.ToLower(word)
	if len(word) > 40 {
		return ""
	}
	var begin []string
	for _, o := range options {
		if word != "" && strings.HasPrefix(o, word) {
			begin = append(begin, strconv.Quote(o))
		}
	}
	if 0 < len(begin) && len(begin) <= 5 {
		return fmt.Sprintf(" (did you mean %s?)", strings.Join(begin, " or "))
	}
	best, least := "", 3 // at most two letters wrong …
	for _, o := range options {
		// … and fewer than half of them.
		if d := levenshtein.Distance(word, o, nil); d < least && 2*d <= len(o) {
			best, least = o, d
		}
	}
	if best == "" {
		return ""
	}
	return fmt.Sprintf(" (did you mean %q?)", best)
}
