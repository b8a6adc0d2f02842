// Package console is how the commands talk to a person at a terminal: wrapped
// text, questions that one key answers, notes about trouble, a status line, and
// the errors that end the program.
package console

import (
	"bufio"
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"iter"
	"os"
	"runtime"
	"strings"
	"unicode/utf8"

	"golang.org/x/term"

	"glidepace/sessions/cautions"
	"glidepace/sessions/glides"
	"glidepace/sessions/plaintext"
)

const textWidth = 80

// WriteJSON writes v indented. Texts stay as they are, with hidden characters
// escaped.
func WriteJSON(w io.Writer, v any) error {
	var b bytes.Buffer
	e := json.NewEncoder(&b)
	e.SetEscapeHTML(false)
	e.SetIndent("", "  ")
	if err := e.Encode(v); err != nil {
		return err
	}
	_, err := w.Write(plaintext.JSON(b.Bytes()))
	return err
}

// WriteJSONList writes what WriteJSON would of the list, one value after another.
func WriteJSONList[T any](w io.Writer, list iter.Seq2[T, error]) error {
	out := bufio.NewWriter(w)
	between := "["
	for v, err := range list {
		var b bytes.Buffer
		e := json.NewEncoder(&b)
		e.SetEscapeHTML(false)
		e.SetIndent("  ", "  ")
		if err == nil {
			err = e.Encode(v)
		}
		if err != nil {
			return errors.Join(err, out.Flush())
		}
		out.WriteString(between + "\n  ")
		out.Write(bytes.TrimSpace(plaintext.JSON(b.Bytes())))
		between = ","
	}
	if between == "[" {
		out.WriteString("[]\n")
	} else {
		out.WriteString("\n]\n")
	}
	return out.Flush()
}

// Printer writes lines for people and keeps the first error. What others wrote is
// harmless in a line.
type Printer struct {
	W     io.Writer
	Width int
	Err   error
}

// NewPrinter wraps to 80 columns, or to a terminal that is narrower.
func NewPrinter(w io.Writer) *Printer {
	p := &Printer{W: w, Width: textWidth}
	if columns, _, ok := Size(w); ok {
		p.Width = min(textWidth, columns)
	}
	return p
}

// Line writes one line, whatever is in it.
func (p *Printer) Line(format string, args ...any) {
	if p.Err == nil {
		_, p.Err = io.WriteString(p.W, plaintext.Line(fmt.Sprintf(format, args...))+"\n")
	}
}

// Say writes one line, whatever is in it, folded if w is a terminal.
func Say(w io.Writer, format string, args ...any) error {
	_, err := io.WriteString(w, Fold(w, plaintext.Line(fmt.Sprintf(format, args...)))+"\n")
	return err
}

// Field writes a labelled text, wrapped beside its label.
func (p *Printer) Field(label, text string) {
	if text != "" {
		p.Wrap(fmt.Sprintf("%-17s", label), text)
	}
}

// Wrap writes text after a lead, wrapped and indented to the lead's width.
func (p *Printer) Wrap(lead, text string) {
	indent := strings.Repeat(" ", utf8.RuneCountInString(lead))
	line := lead
	empty := true
	for _, word := range words(text) {
		if !empty && utf8.RuneCountInString(line)+1+utf8.RuneCountInString(word) > p.Width {
			p.Line("%s", line)
			line, empty = indent, true
		}
		if !empty {
			line += " "
		}
		line, empty = line+word, false
	}
	p.Line("%s", strings.TrimRight(line, " "))
}

// words returns the words of a text, each number with its per cent sign or unit of time.
func words(text string) (list []string) {
	for _, word := range strings.Fields(text) {
		n := len(list)
		switch unit := strings.TrimRight(word, ".,;:)"); {
		case n > 0 && (unit == "%" || unit == "s" || unit == "min") && endsInDigit(list[n-1]):
			list[n-1] += " " + word
		default:
			list = append(list, word)
		}
	}
	return list
}

func endsInDigit(word string) bool { return strings.ContainsAny(word[len(word)-1:], "0123456789") }

// Sentence writes text on lines of its own, nothing for "".
func (p *Printer) Sentence(text string) {
	if text != "" {
		p.Wrap("", text)
	}
}

// Posture writes how one sits or stands, a field for each part that is said.
func (p *Printer) Posture(q glides.Posture) {
	for i, text := range q.Texts() {
		p.Field(glides.PostureParts[i], text)
	}
}

// List writes a heading and its items.
func (p *Printer) List(l cautions.List) {
	p.Line("%s:", l.Title)
	for _, item := range l.Items {
		p.Wrap("- ", item)
	}
}

// Lines returns what is written to a printer of a width, line by line.
func Lines(width int, write func(p *Printer)) []string {
	var b strings.Builder
	write(&Printer{W: &b, Width: width})
	if b.Len() == 0 {
		return nil
	}
	return strings.Split(strings.TrimRight(b.String(), "\n"), "\n")
}

// Height is how many rows a folded text takes in a window of a width.
func Height(width int, text string) (rows int) {
	for line := range strings.SplitSeq(text, "\n") {
		rows += 1 + strings.Count(fold(width, line), "\n")
	}
	return rows
}

// Redraws reports whether what was written to w can be written over. Without TERM a
// terminal may be anything, except on Windows.
func Redraws(w io.Writer) bool {
	kind := os.Getenv("TERM")
	return IsTerminal(w) && kind != "dumb" && (kind != "" || runtime.GOOS == "windows")
}

// IsTerminal reports whether a stream is a terminal.
func IsTerminal(stream any) bool {
	f, ok := stream.(file)
	return ok && term.IsTerminal(int(f.Fd()))
}

// file is an *os.File, or stands for one.
type file interface{ Fd() uintptr }

// Size returns how many columns and rows a terminal has; false where stream is
// none, or does not tell.
func Size(stream any) (columns, rows int, ok bool) {
	if !IsTerminal(stream) {
		return 0, 0, false
	}
	columns, rows, err := term.GetSize(int(stream.(file).Fd()))
	return columns, rows, err == nil && columns > 0
}
