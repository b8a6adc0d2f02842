package patient

import (
	"context"
	"io"
	"slices"
	"strings"

	"glidepace/cmd/glidepace/internal/console"
)

// show writes lines, a page at a time on a terminal, so that none scrolls away
// unread. room is how many lines must fit below the last page. If skippable, the
// patient may stop reading.
func (p *Talk) show(ctx context.Context, list []string, room int, skippable bool) error {
	question, keys := "Enter: read on. ", "\n "
	if skippable {
		question, keys = "Enter: read on.  q: enough read. ", "\n q"
	}
	rows := 0
	if _, height, ok := console.Size(p.Out); ok && console.IsTerminal(p.In) && !p.Yes {
		rows = max(height, room+2)
	}
	if rows == 0 || len(list)+room < rows {
		_, err := io.WriteString(p.Out, strings.Join(list, "\n")+"\n")
		return err
	}
	for page := range slices.Chunk(list, rows-1) {
		if _, err := io.WriteString(p.Out, strings.Join(page, "\n")+"\n"); err != nil {
			return err
		}
		if len(page)+room < rows {
			break // the last one, which stays in sight
		}
		if key, err := console.Choose(ctx, p.In, p.Out, question, keys, 0); err != nil || key == 'q' {
			return err
		}
	}
	return nil
}

// Brief tells the patient about a session before it begins: in short, if they know
// the prescription.
func (p *Talk) Brief(ctx context.Context, b Briefing, known bool) error {
	width := console.NewPrinter(p.Out).Width
	questions := console.Height(width, toBegin)
	if p.asks() {
		questions += console.Height(width, tinglingNow) + console.Height(width, painNow)
	}
	for _, text := range p.Without {
		questions += console.Height(width, console.NoteLead+text)
	}
	list := b.first(width)
	if known {
		list = b.daily(width, DailyLines-questions-p.told)
	}
	if err := p.show(ctx, list, questions, false); err != nil {
		return p.NotBegun("")
	}
	return nil
}

// BriefToLearn tells about a session in which the patient learns the glides.
func (p *Talk) BriefToLearn(ctx context.Context, b Briefing) error {
	width := console.NewPrinter(p.Out).Width
	if err := p.show(ctx, append(b.first(width), b.watch(width)...), 1, false); err != nil {
		return p.NotBegun("")
	}
	return nil
}

// Agree says what the session does without, and waits for the patient to begin
// it. The error is the exit code if they do not.
func (p *Talk) Agree(ctx context.Context, b Briefing) error {
	for _, text := range p.Without {
		p.Notes.Add("%s", text)
	}
	for !p.Yes {
		key, err := console.Choose(ctx, p.In, p.Out, toBegin, "\nmq", 0)
		if err == nil && key == 'm' {
			width := console.NewPrinter(p.Out).Width
			err = p.show(ctx, b.Everything(width), console.Height(width, toBegin), true)
		}
		switch {
		case err != nil || key == 'q':
			return p.NotBegun("")
		case key == '\n':
			return nil
		}
	}
	return nil
}

const toBegin = "Enter: begin.  m: more to read.  q: not now. "

// NotBegun says that the session was not begun, and why, and returns the exit
// code.
func (p *Talk) NotBegun(why string) error {
	p.say(strings.TrimSpace("Not begun. " + why))
	return console.ExitError(console.ExitEarly)
}

// say prints a text, wrapped.
func (p *Talk) say(text string) { console.NewPrinter(p.Out).Wrap("", text) }
