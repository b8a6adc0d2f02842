package console

import (
	"io"
	"regexp"
	"strings"
	"unicode/utf8"
)

// Fold breaks a line between words where it is too long for w, a terminal. For a
// script or a log, where w is none, a line stays whole.
func Fold(w io.Writer, line string) string {
	if !IsTerminal(w) {
		return line
	}
	return fold(NewPrinter(w).Width, line)
}

// FoldLines returns a writer to w that folds each line it is given. A Write has whole
// lines.
func FoldLines(w io.Writer) io.Writer { return folding{w} }

type folding struct{ w io.Writer }

func (f folding) Write(b []byte) (int, error) {
	lines := strings.Split(string(b), "\n")
	for i, line := range lines {
		lines[i] = Fold(f.w, line)
	}
	if _, err := io.WriteString(f.w, strings.Join(lines, "\n")); err != nil {
		return 0, err
	}
	return len(b), nil
}

// label is a number or a time before a text, or the indent of a text.
var label = regexp.MustCompile(`^(\S*\d\S*)? {2,}`)

const foldIndent = "  "

// fold goes on below the text after a label. Without a label it is indented, so that
// what others wrote begins no line of its own.
func fold(width int, line string) string {
	if utf8.RuneCountInString(line) <= width {
		return line
	}
	if lead := label.FindString(line); lead != "" {
		return strings.Join(Lines(width, func(p *Printer) { p.Wrap(lead, line[len(lead):]) }), "\n")
	}
	return strings.Join(Lines(width-len(foldIndent), func(p *Printer) { p.Wrap("", line) }), "\n"+foldIndent)
}
