package main

import (
	"encoding/json"
	"fmt"
	"io"
	"os"
	"slices"
	"strings"
	"text/tabwriter"
	"unicode/utf8"

	"github.com/spf13/cobra"
	"golang.org/x/term"

	"glidepace/sessions/cautions"
	"glidepace/sessions/glides"
)

// The width that printed text is wrapped to, where the terminal is not
// narrower.
const textWidth = 80

// formatFlag adds --format with its first value as default.
func formatFlag(cmd *cobra.Command, form *string, values ...string) {
	cmd.Flags().StringVar(form, "format", values[0], strings.Join(values, ", "))
}

// oneOf refuses a flag's value that is none of those allowed.
func oneOf(flag, value string, allowed ...string) error {
	if slices.Contains(allowed, value) {
		return nil
	}
	return usageError{fmt.Errorf("--%s %q: allowed is %s", flag, value, strings.Join(allowed, ", "))}
}

func writeJSON(w io.Writer, v any) error {
	e := json.NewEncoder(w)
	e.SetEscapeHTML(false)
	e.SetIndent("", "  ")
	return e.Encode(v)
}

type table struct{ *tabwriter.Writer }

func newTable(w io.Writer) table { return table{tabwriter.NewWriter(w, 0, 0, 2, ' ', 0)} }

func (t table) row(cells ...string) { fmt.Fprintln(t, strings.Join(cells, "\t")) }
func (t table) flush() error        { return t.Flush() }

// printer writes lines for people and keeps the first error.
type printer struct {
	w     io.Writer
	width int
	err   error
}

func newPrinter(w io.Writer) *printer {
	p := &printer{w: w, width: textWidth}
	if isTerminal(w) {
		if columns, _, err := term.GetSize(int(w.(*os.File).Fd())); err == nil && columns > 0 {
			p.width = min(textWidth, columns)
		}
	}
	return p
}

func (p *printer) line(format string, args ...any) {
	if p.err == nil {
		_, p.err = fmt.Fprintf(p.w, format+"\n", args...)
	}
}

// field writes a labelled text, wrapped beside its label.
func (p *printer) field(label, text string) {
	if text != "" {
		p.wrap(fmt.Sprintf("%-17s", label), text)
	}
}

// wrap writes text after a lead, wrapped and indented to the lead's width.
func (p *printer) wrap(lead, text string) {
	indent := strings.Repeat(" ", utf8.RuneCountInString(lead))
	line := lead
	empty := true
	for _, word := range strings.Fields(text) {
		if !empty && utf8.RuneCountInString(line)+1+utf8.RuneCountInString(word) > p.width {
			p.line("%s", line)
			line, empty = indent, true
		}
		if !empty {
			line += " "
		}
		line, empty = line+word, false
	}
	p.line("%s", strings.TrimRight(line, " "))
}

// sentence writes text of its own, nothing for "".
func (p *printer) sentence(text string) {
	if text != "" {
		p.wrap("", text)
	}
}

func (p *printer) posture(q glides.Posture) {
	p.field("position", q.Position)
	p.field("pelvis", q.Pelvis)
	p.field("low back", q.LowBack)
	p.field("chest", q.Chest)
	p.field("shoulder blades", q.ShoulderBlades)
	p.field("chin", q.Chin)
	p.field("spine", q.Spine)
}

// list writes a heading and what stands under it.
func (p *printer) list(l cautions.List) {
	p.line("%s:", l.Title)
	for _, item := range l.Items {
		p.wrap("- ", item)
	}
}
