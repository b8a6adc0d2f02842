package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"slices"
	"strconv"

	"charm.land/huh/v2"

	"glidepace/cmd/glidepace/internal/console"
	"glidepace/sessions/glides"
)

// question is one question of draft.
type question struct {
	flag        string // "" if no option answers it
	title, help string
	options     []option                  // nil for a free answer
	to          *string                   // the answer, at first the usual one
	exercise    int                       // from 1, 0 for the whole session
	optional    bool                      // never asked: only its option answers it
	check       func(answer string) error // nil where any is right
}

// wrong returns what is wrong with an answer; toChoose says how one is chosen.
func (q question) wrong(answer, toChoose string) error {
	if len(q.options) > 0 && !slices.ContainsFunc(q.options, func(o option) bool { return o.value == answer }) {
		return errors.New(toChoose)
	}
	if q.check == nil {
		return nil
	}
	return q.check(answer)
}

// option is a possible answer and how it is offered.
type option struct{ value, label string }

// nervesHelp names the nerves by what clinicians treat. Common practice, no source.
const nervesHelp = "Carpal tunnel: median nerve. Cubital tunnel: ulnar nerve."

// exercise returns the questions about exercise i, from 0.
func (d *draftRun) exercise(i int) []question {
	e := &d.answers.Exercises[i]
	var library []option
	for _, g := range glides.All() {
		library = append(library, option{g.Name, g.Name + ": " + g.Title})
	}
	sides := []option{{"right", "right"}, {"left", "left"}, {"both", "both: right, then left"}}
	return d.checked([]question{
		{flag: "glide", title: "Which movement?", help: nervesHelp, options: library, to: &e.Glide, exercise: i + 1},
		{flag: "side", title: "Which side?", options: sides, to: &e.Side, exercise: i + 1},
		{flag: "sets", to: &e.Sets, exercise: i + 1, optional: true},
		{flag: "reps", title: "Repetitions a set", help: "10 is what a set is usually worked up to.", to: &e.Reps, exercise: i + 1},
	})
}

// course returns the questions about the whole session.
func (d *draftRun) course() []question {
	a := &d.answers
	return d.checked([]question{
		{flag: "ratio", to: &a.Ratio, optional: true},
		{flag: "pause", to: &a.Pause, optional: true},
		{flag: "rate", title: "Breaths a minute", help: "One breath is one repetition; at 8, 4.2 s out and 2.8 s back.", to: &a.Rate},
		{flag: "lead-in", to: &a.LeadIn, optional: true},
		{flag: "per-day", title: "Sessions a day", help: "Usually 1 to 3. A range such as 1-3 means: as tolerated.", to: &a.PerDay},
		{flag: "weeks", title: "Weeks", help: "Usually 6 to 8.", to: &a.Weeks},
		{flag: "start", to: &a.Start, optional: true},
		{flag: "reps-from", to: &a.RepsFrom, optional: true},
		{flag: "patient", title: "Patient code", help: "The clinic's own code, or nothing. Never a name.", to: &a.Patient},
		{flag: "title", to: &a.Title, optional: true},
	})
}

// checked has the answers to questions read as part of the file.
func (d *draftRun) checked(questions []question) []question {
	for i, q := range questions {
		questions[i].check = func(answer string) error { return d.read(q, answer) }
	}
	return questions
}

// form asks questions on a terminal.
type form struct {
	in   io.Reader
	out  io.Writer
	full bool // fields that are redrawn, else plain lines
}

func newForm(in io.Reader, out io.Writer, screen string) form {
	return form{in, out, screen == "full" || screen == "auto" && console.Redraws(out)}
}

// ask asks one question after another.
func (f form) ask(ctx context.Context, questions []question) error {
	if len(questions) == 0 {
		return nil
	}
	if !f.full {
		for _, q := range questions {
			if err := f.askLine(ctx, q); err != nil {
				return err
			}
		}
		return nil
	}
	var fields []huh.Field
	for _, q := range questions {
		if len(q.options) == 0 {
			fields = append(fields, huh.NewInput().Title(q.title).Description(q.help).Value(q.to).Validate(q.check))
			continue
		}
		var offered []huh.Option[string]
		if *q.to == "" {
			offered = append(offered, huh.NewOption("(choose with the arrow keys)", ""))
		}
		for _, o := range q.options {
			offered = append(offered, huh.NewOption(o.label, o.value))
		}
		choose := func(answer string) error {
			return q.wrong(answer, "Nothing is chosen yet. Go to an answer with the arrow keys, then press Enter.")
		}
		fields = append(fields, huh.NewSelect[string]().Title(q.title).Description(q.help).Options(offered...).Value(q.to).Validate(choose))
	}
	keys := huh.NewDefaultKeyMap()
	keys.Select.Filter.SetEnabled(false)
	keys.Select.Submit.SetHelp("enter", "next") // more questions follow
	keys.Input.Submit.SetHelp("enter", "next")
	return huh.NewForm(huh.NewGroup(fields...)).WithInput(f.in).WithOutput(f.out).WithKeyMap(keys).
		WithTheme(huh.ThemeFunc(plainTheme)).RunWithContext(ctx)
}

// plainTheme has no asterisk beside what is wrong.
func plainTheme(dark bool) *huh.Styles {
	styles := huh.ThemeBase(dark)
	for _, s := range []*huh.FieldStyles{&styles.Focused, &styles.Blurred} {
		s.ErrorIndicator, s.ErrorMessage = s.ErrorIndicator.SetString(""), s.ErrorMessage.SetString("")
	}
	return styles
}

// askLine asks a question in plain lines, until the answer is good. A choice is
// answered by its number, and Enter takes the usual answer.
func (f form) askLine(ctx context.Context, q question) error {
	prompt := q.title
	for i, o := range q.options {
		console.Say(f.out, "%d  %s", i+1, o.label)
	}
	if len(q.options) > 0 {
		prompt += " Its number"
	}
	if q.help != "" {
		console.Say(f.out, "%s", q.help)
	}
	if *q.to != "" {
		prompt += " (Enter: " + *q.to + ")"
	}
	for {
		answer, err := console.Ask(ctx, f.in, f.out, prompt+": ")
		if err != nil {
			return err
		}
		if n, err := strconv.Atoi(answer); err == nil && 0 < n && n <= len(q.options) {
			answer = q.options[n-1].value
		}
		if answer == "" {
			answer = *q.to
		}
		if err := q.wrong(answer, fmt.Sprintf("Type the number of an answer, 1 to %d.", len(q.options))); err != nil {
			console.Say(f.out, "%v", err)
			continue
		}
		*q.to = answer
		return nil
	}
}
