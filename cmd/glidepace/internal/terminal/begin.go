package terminal

import (
	"context"
	"io"
	"slices"
	"strings"

	"glidepace/cmd/glidepace/internal/console"
	"glidepace/devices/patient"
	"glidepace/sessions/cautions"
)

// show writes blocks of lines, a page at a time on a terminal, so that none scrolls
// away unread. room is how many lines must fit below the last page. If skippable, the
// patient may stop reading.
func (t *Terminal) show(ctx context.Context, blocks [][]string, room int, skippable bool) error {
	question, keys := "Enter: read on. ", "\n "
	if skippable {
		question, keys = "Enter: read on.  q: enough read. ", "\n q"
	}
	rows := 0
	if _, height, ok := console.Size(t.Out); ok && console.IsTerminal(t.In) && !t.Yes {
		rows = max(height, room+2)
	}
	list := [][]string{slices.Concat(blocks...)}
	if rows > 0 && len(list[0])+room >= rows {
		list = pages(blocks, rows-1)
	}
	for i, page := range list {
		if _, err := io.WriteString(t.Out, strings.Join(page, "\n")+"\n"); err != nil {
			return err
		}
		if i == len(list)-1 && (rows == 0 || len(page)+room < rows) {
			break // it stays in sight
		}
		if key, err := console.Choose(ctx, t.In, t.Out, question, keys, 0); err != nil || key == 'q' {
			return err
		}
	}
	return nil
}

// pages divides blocks into pages of at most so many lines. A block is divided only if
// it is longer than a page.
func pages(blocks [][]string, most int) (list [][]string) {
	var page []string
	for _, b := range blocks {
		if len(page) > 0 && len(page)+len(b) > most && len(b) <= most {
			list, page = append(list, page), nil
		}
		for page = append(page, b...); len(page) > most; page = page[most:] {
			list = append(list, page[:most])
		}
	}
	return append(list, page)
}

// Brief implements patient.Person: in short, if the patient knows the session.
func (t *Terminal) Brief(ctx context.Context, b patient.Briefing, known bool) error {
	width := console.NewPrinter(t.Out).Width
	questions := console.Height(width, asked(patient.Begin, width))
	if t.Rates() {
		questions += console.Height(width, prompt(width, tinglingNow)) + console.Height(width, prompt(width, painNow))
	}
	for _, text := range t.Without {
		questions += console.Height(width, console.NoteLead+text)
	}
	list := blocks(width, b.First())
	if known {
		list = [][]string{daily(b, width, DailyLines-questions-t.rows)}
	}
	return t.show(ctx, list, questions, false)
}

// Read implements patient.Person.
func (t *Terminal) Read(ctx context.Context, text patient.Text) error {
	width := console.NewPrinter(t.Out).Width
	return t.show(ctx, blocks(width, text), console.Height(width, asked(patient.Begin, width)), true)
}

// DailyLines is how many lines the daily start of a session may take, its
// questions included.
const DailyLines = 10

// daily lays out what a patient who knows the session is told, in at most so many
// lines if that can be. The cautions that come before every session are not counted.
func daily(b patient.Briefing, width, most int) (list []string) {
	versions, always := b.Daily()
	for _, t := range versions {
		if shorter := Lines(width, t); list == nil || len(list) > most && len(shorter) < len(list) {
			list = shorter
		}
	}
	return append(list, Lines(width, always)...)
}

// Lines lays a text out.
func Lines(width int, text patient.Text) []string { return slices.Concat(blocks(width, text)...) }

// blocks lays out each block of a text.
func blocks(width int, text patient.Text) (list [][]string) {
	for _, b := range text {
		list = append(list, console.Lines(width, func(p *console.Printer) { writeBlock(p, b) }))
	}
	return list
}

func writeBlock(p *console.Printer, b patient.Block) {
	switch {
	case b.Heading != "":
		p.List(cautions.List{Title: b.Heading, Items: b.Items})
	case b.Items != nil:
		for i, item := range b.Items {
			if i > 0 {
				b.Label = ""
			}
			p.Field(b.Label, item)
		}
	case b.Label != "":
		p.Field(b.Label, b.Text)
	case b.Text != "":
		p.Wrap("", b.Text)
	default:
		p.Line("")
	}
}

// BriefToLearn tells about a session in which the patient learns the glides.
func (t *Terminal) BriefToLearn(ctx context.Context, b patient.Briefing) error {
	width := console.NewPrinter(t.Out).Width
	if err := t.show(ctx, blocks(width, append(b.First(), b.Watch()...)), 1, false); err != nil {
		return t.NotBegun("")
	}
	return nil
}
