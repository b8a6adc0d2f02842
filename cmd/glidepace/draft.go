package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"strings"

	"charm.land/huh/v2"
	"github.com/spf13/cobra"

	"glidepace/cmd/glidepace/internal/console"
	"glidepace/cmd/glidepace/internal/draft"
	"glidepace/cmd/glidepace/internal/live"
	"glidepace/pacer"
	"glidepace/sessions"
	"glidepace/sessions/glides"
	"glidepace/sessions/safefile"
)

func draftCommand() *cobra.Command {
	d := &draftRun{answers: draft.Usual(), given: map[string][]string{}}
	cmd := &cobra.Command{
		Use:   "draft [FILE]",
		Short: "Write a new session file from a few questions",
		Long: `Asks a few questions, shows what the session adds up to, and writes a session
file with a comment on each key. Enter takes the answer that stands there: 10
repetitions, 2 sessions a day, 6 weeks, 8 breaths a minute (common practice,
without a source). Nothing stands there for the movement and the side.

Every question is also an option, and is not asked if its option is given. With
--yes, or without a terminal, nothing is asked: --glide and --side must then be
given. For more than one movement give --glide more than once, and --side,
--reps and --sets once for all of them or once for each.

It never asks for a name. A patient has at most a code of the clinic's own. A
file that is there already is never replaced. Ctrl-C writes nothing.`,
		Example: `  glidepace draft
  glidepace draft first-week.yaml --glide median-wrist --side right
  glidepace draft both.yaml --yes --glide median-slider --side both --reps 8
  glidepace draft two.yaml --glide median-wrist --glide ulnar-slider --side left`,
		Args: cobra.MaximumNArgs(1),
		RunE: untilSignal(func(cmd *cobra.Command, args []string) error {
			d.in, d.out = cmd.InOrStdin(), cmd.OutOrStdout()
			if len(args) > 0 {
				d.file = args[0]
			}
			return d.draft(cmd.Context())
		}),
	}
	f := cmd.Flags()
	for _, flag := range []struct{ name, usage string }{
		{"glide", "the movement: a `name` from glidepace glides"},
		{"side", "right, left, both"},
		{"sets", "sets of each movement (default 1)"},
		{"reps", "repetitions a set (default 10)"},
		{"per-day", "sessions a day, or a range such as 1-3 (default 2)"},
		{"weeks", "length of the course (default 6)"},
		{"start", "first day of the course, such as 2026-12-01"},
		{"rate", "breaths a minute (default 8)"},
		{"ratio", "inhale to exhale (default 1:1.5)"},
		{"pause", "the turn of the movement, under 1s (default 0.5s)"},
		{"lead-in", "breaths at rest before the first movement (default 3)"},
		{"reps-from", "repetitions to begin with, and to work up from"},
		{"patient", "the clinic's own `code`, never a name"},
		{"title", "what the patient reads at the top (default: from the movements)"},
	} {
		f.Var(answerFlag{d.given, flag.name}, flag.name, flag.usage)
	}
	f.BoolVarP(&d.yes, "yes", "y", false, "ask nothing, and take the usual answers for the rest")
	f.StringVar(&d.screen, "screen", "auto", "full, lines; auto is full on a terminal")
	return cmd
}

// answerFlag collects what an option is given, as it is typed.
type answerFlag struct {
	given map[string][]string
	name  string
}

func (f answerFlag) Set(v string) error { f.given[f.name] = append(f.given[f.name], v); return nil }
func (answerFlag) String() string       { return "" }
func (answerFlag) Type() string         { return "value" }

// draftRun is one call of draft.
type draftRun struct {
	answers draft.Answers
	given   map[string][]string // by option
	file    string
	yes     bool
	screen  string
	in      io.Reader
	out     io.Writer
}

func (d *draftRun) draft(ctx context.Context) error {
	if err := oneOf("screen", d.screen, "auto", "full", "lines"); err != nil {
		return err
	}
	if d.file != "" {
		if err := checkNewFile(d.file); err != nil {
			return console.UsageError{Err: err}
		}
	}
	if err := d.takeGiven(); err != nil {
		return err
	}
	if d.yes || !console.IsTerminal(d.in) {
		return d.withoutAsking()
	}
	console.Say(d.out, "A new session file. Ctrl-C leaves, and writes nothing.")
	f := newForm(d.in, d.out, d.screen)
	for again := false; ; again = true {
		file, decision := "", ""
		err := d.askAll(ctx, f, again)
		if err == nil {
			file, decision, err = d.decide(ctx, f)
		}
		left := errors.Is(err, huh.ErrUserAborted) || errors.Is(err, io.EOF) || ctx.Err() != nil
		switch {
		case left || decision == "leave":
			console.Say(d.out, "Nothing is written.")
			return console.ExitError(console.ExitEarly)
		case err != nil:
			return err
		case decision == "write":
			return d.write(file)
		}
	}
}

// takeGiven checks what the options say and takes it over.
func (d *draftRun) takeGiven() error {
	n := max(1, len(d.given["glide"]))
	for len(d.answers.Exercises) < n {
		d.answers.Exercises = append(d.answers.Exercises, draft.UsualExercise())
	}
	var questions []question
	for i := range n {
		questions = append(questions, d.exercise(i)...)
	}
	for _, q := range append(questions, d.course()...) {
		values := d.given[q.flag]
		switch {
		case len(values) == 0:
			continue
		case q.exercise == 0 && len(values) > 1:
			return console.Usagef("--%s is given %d times: give it once", q.flag, len(values))
		case q.exercise > 0 && len(values) != 1 && len(values) != n:
			return console.Usagef("--%s is given %d times for %s: give it once, or once for each", q.flag, len(values), sessions.Count(n, "movement"))
		}
		v := values[0]
		if len(values) > 1 {
			v = values[q.exercise-1]
		}
		if err := q.check(v); err != nil {
			return console.Usagef("--%s: %w", q.flag, err)
		}
		*q.to = v
	}
	return nil
}

// withoutAsking writes the file from the options and the usual answers.
func (d *draftRun) withoutAsking() error {
	for _, flag := range []string{"glide", "side"} {
		if len(d.given[flag]) == 0 {
			return console.Usagef("nothing is usual for the %s: give --%s", map[string]string{"glide": "movement", "side": "side"}[flag], flag)
		}
	}
	if d.file == "" {
		d.file = d.freeName()
	}
	if err := d.preview(); err != nil {
		return err
	}
	return d.write(d.file)
}

// askAll asks for the answers that no option has given, for all if it asks again, and
// shows what they add up to.
func (d *draftRun) askAll(ctx context.Context, f form, again bool) error {
	all := again
	for i := 0; i < len(d.answers.Exercises); i++ {
		if err := f.ask(ctx, d.open(d.exercise(i), all)); err != nil {
			return err
		}
		if i+1 < len(d.answers.Exercises) || len(d.given["glide"]) > 0 && !again {
			continue
		}
		another := "no"
		if err := f.ask(ctx, []question{{title: "Another movement?", options: []option{{"no", "no"}, {"yes", "yes"}}, to: &another}}); err != nil {
			return err
		}
		if another == "yes" {
			d.answers.Exercises = append(d.answers.Exercises, draft.UsualExercise())
			all = true // the options were for the others
		}
	}
	if err := f.ask(ctx, d.open(d.course(), again)); err != nil {
		return err
	}
	return d.preview()
}

// open returns the questions that are to be asked.
func (d *draftRun) open(questions []question, again bool) (open []question) {
	for _, q := range questions {
		if !q.optional && (again || len(d.given[q.flag]) == 0) {
			open = append(open, q)
		}
	}
	return open
}

// decide asks for the name of the file, if there is none yet, and what to do: "write",
// "change" or "leave".
func (d *draftRun) decide(ctx context.Context, f form) (file, decision string, err error) {
	file, decision = d.file, "write"
	if file == "" {
		file = d.freeName()
		err = f.ask(ctx, []question{{title: "Name of the file", help: "A new file, in this folder or another.", to: &file, check: checkNewFile}})
	}
	if err == nil {
		err = f.ask(ctx, []question{{title: "Write it?", to: &decision, options: []option{
			{"write", "write " + file}, {"change", "change an answer"}, {"leave", "leave: write nothing"},
		}}})
	}
	return file, decision, err
}

// read returns what is wrong with an answer, in the words of the session file's
// parser.
func (d *draftRun) read(q question, answer string) error {
	before := *q.to
	*q.to = answer
	defer func() { *q.to = before }()
	_, err := d.lay()
	if file, ok := errors.AsType[*sessions.Error](err); ok {
		return errors.New(strings.TrimPrefix(file.Problems[0].Text, strings.ReplaceAll(q.flag, "-", "_")+": "))
	}
	return err
}

// lay lays the session out. Where a movement or a side is still to be chosen, any will
// do.
func (d *draftRun) lay() (*pacer.Timeline, error) {
	a := d.answers
	a.Exercises = nil
	for _, e := range d.answers.Exercises {
		if e.Glide == "" {
			e.Glide = glides.Names()[0]
		}
		if e.Side == "" {
			e.Side = sessions.Right.String()
		}
		a.Exercises = append(a.Exercises, e)
	}
	return live.Read(d.file, strings.NewReader(a.Text()))
}

// preview shows what the session adds up to.
func (d *draftRun) preview() error {
	t, err := live.Read(d.file, strings.NewReader(d.answers.Text()))
	if err != nil {
		return err
	}
	p := console.NewPrinter(d.out)
	r := newReport("Not yet written", t)
	r.Dose = newDoseReport(t.Session().Dose, t.Repetitions)
	r.write(p, false)
	p.Line("")
	return p.Err
}

func (d *draftRun) write(name string) error {
	if err := checkNewFile(name); err != nil {
		return err
	}
	if err := writeFiles(false, outFile{name, []byte(d.answers.Text())}); err != nil {
		return err
	}
	p := console.NewPrinter(d.out)
	p.Wrap("", fmt.Sprintf("Written: %s. It is plain text. If you change it, glidepace check says whether it is still right; glidepace handout makes a page of it for the patient.", name))
	return p.Err
}

// checkNewFile returns what is wrong with the name of a file to be written.
func checkNewFile(name string) error {
	if !isYAML(name) {
		return fmt.Errorf("%q: a session file ends in .yaml", name)
	}
	err := safefile.Check(name, false)
	if refused, ok := errors.AsType[safefile.Refusal](err); ok && refused.Exists {
		return fmt.Errorf("%w; give another name", err)
	}
	return err
}

// freeName suggests a name for the file that is not taken yet.
func (d *draftRun) freeName() string {
	name := d.answers.FileName()
	base := strings.TrimSuffix(name, ".yaml")
	for n := 2; n < 100 && safefile.Check(name, false) != nil; n++ {
		name = fmt.Sprintf("%s-%d.yaml", base, n)
	}
	return name
}
