// Package terminal tells and asks a patient at a terminal, with keys.
package terminal

import (
	"context"
	"fmt"
	"io"
	"strings"
	"time"
	"unicode/utf8"

	"glidepace/cmd/glidepace/internal/console"
	"glidepace/devices/patient"
	"glidepace/sessions/diary"
	"glidepace/sessions/progress"
)

// Terminal is a patient at a terminal.
type Terminal struct {
	patient.Talk
	In        io.Reader
	Out, Errs io.Writer
	Notes     *console.Notes
	Yes       bool // ask nothing: a hurdle ends the session before it begins

	rows int // that were written before the briefing
}

var _ patient.Person = (*Terminal)(nil)

// Ready makes the terminal the one that the talk is held at.
func (t *Terminal) Ready() {
	t.Person, t.ThenCleared = t, "Then add --cleared to the command."
	if t.Yes {
		t.NotAsked = t.notAsked
	}
}

// Keys says how keys steer a session.
var Keys = patient.Steering{
	Brief: "Enter stops at once; space pauses; n: enough for this set; q ends the session.",
	Full:  "Keys: Enter stops at once, for tingling, pain or anything that worries you; space pauses, and goes on again; n: enough for this set; q ends the session.",
	Neck:  "Dizzy or faint, or trouble with sight, speech or swallowing: press d. It ends the session.",
}

// There implements patient.Person.
func (t *Terminal) There() bool { return console.IsTerminal(t.In) }

// Say implements patient.Person.
func (t *Terminal) Say(text string) {
	p := console.NewPrinter(t.Out)
	list := console.Lines(p.Width, func(p *console.Printer) { p.Wrap("", text) })
	t.rows += len(list)
	io.WriteString(t.Out, strings.Join(list, "\n")+"\n")
}

// Urge implements patient.Person.
func (t *Terminal) Urge(text string) { t.Say(text) }

// Warn implements patient.Person.
func (t *Terminal) Warn(text string) { t.Notes.Add("%s", text) }

// Choose implements patient.Person.
func (t *Terminal) Choose(ctx context.Context, q patient.Question) (rune, error) {
	keys := ""
	for _, c := range q.Choices {
		keys += string(c.Key)
	}
	if q.Hint != "" {
		t.rows += len(console.Asking(t.Out, q.Text, q.Hint))
		return console.AskKey(ctx, t.In, t.Out, q.Text, q.Hint, keys)
	}
	return console.Choose(ctx, t.In, t.Out, asked(q, console.NewPrinter(t.Out).Width), keys, q.Patience)
}

// asked writes a question with what each key means: as much in a line as there is
// room for.
func asked(q patient.Question, width int) string {
	text, line := "", q.Text
	for _, c := range q.Choices {
		name := string(c.Key)
		if c.Key == '\n' {
			name = "Enter"
		}
		choice := name + ": " + c.Words + "."
		switch {
		case line == "":
			line = choice
		case utf8.RuneCountInString(line)+2+utf8.RuneCountInString(choice) < width:
			line += "  " + choice
		default:
			text, line = text+line+"\n", choice
		}
	}
	return text + line + " "
}

// strayKeys is how long after a session a key may still be meant for it. Such a
// key must not answer a question.
const strayKeys = time.Second

// Afterwards implements patient.Person.
func (t *Terminal) Afterwards(ctx context.Context) {
	console.DropKeys(ctx, t.In, strayKeys)
	fmt.Fprintln(t.Out)
}

// Lost implements patient.Person.
func (t *Terminal) Lost(e *diary.UnwrittenError) {
	t.Notes.Add("%v", t.WithCure(e))
	fmt.Fprintf(t.Errs, "Please write this down:\n%s", e.Session)
}

// notAsked is the gate when nothing may be asked: the session does not begin if
// there is a hurdle, unless --extra says to pass it.
func (t *Terminal) notAsked(hurdles []progress.Hurdle, now time.Time) (pass patient.Passage, err error) {
	for _, h := range hurdles {
		words, cure := h.Message(now), "--extra does the session all the same."
		switch {
		case h.Kind == progress.AskClinician:
			t.Say(words)
			continue
		case h.Kind == progress.AskMorning:
			continue
		case h.Kind == progress.NeckShut && t.Cleared:
			pass.Cleared = true
			continue
		case h.Kind == progress.NeckShut:
			cure = t.ThenCleared
		case t.Extra:
			pass.Extra = pass.Extra || h.Kind == progress.RestToday || h.Kind == progress.NoneDue
			t.Say(words)
			continue
		}
		if h.Kind == progress.RestToday || h.Kind == progress.NotBackYet {
			cure = "Rest, and tell your clinician." // whoever is to rest is not told of a way round it
		}
		console.Say(t.Errs, "glidepace: not begun: %s %s", words, cure)
		return pass, console.ExitError(console.ExitEarly)
	}
	return pass, nil
}
