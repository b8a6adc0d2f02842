package main

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"io"
	"math"
	"os/signal"
	"strings"
	"syscall"
	"time"

	"github.com/spf13/cobra"

	"glidepace/cmd/glidepace/internal/console"
	"glidepace/cmd/glidepace/internal/counter"
	"glidepace/cmd/glidepace/internal/live"
	"glidepace/cmd/glidepace/internal/tuner"
	"glidepace/pacer"
	"glidepace/pacer/rate"
	"glidepace/sessions"
	"glidepace/sessions/cautions"
	"glidepace/sessions/fields"
	"glidepace/sessions/safefile"
	"glidepace/sounds"
	"glidepace/sounds/out"
)

// How long a rate is tried until comfort is asked for, and how long when the rate
// goes down by itself. From memory, no source.
const (
	defaultStage = time.Minute
	defaultStep  = 2 * time.Minute
)

func tuneCommand() *cobra.Command {
	t := &tuneRun{}
	cmd := &cobra.Command{
		Use:   "tune FILE",
		Short: "Find a comfortable breath rate and write it into a session file",
		Long: `Paces the breath at rest, without any movement, to find the rate and the ratio
of inhale to exhale that suit an anxious patient. Use it in the clinic, beside
the patient. It starts at the patient's own rate: give it with --from, or it is
counted first.

Keys:
  s, f     slower (by about a tenth), faster
  e, i     longer exhale, longer inhale
  0 to 10  how comfortable it is: 0 not at all, 10 the best
  b        light-headed or short of breath: the pacing ends
  Enter    the pacing stops at once
  w        write the best rate into FILE
  q        leave FILE as it is
A change begins with the next breath. From one breath to the next the length
changes by at most 5 %. Until the new rate is reached, the keys for another
change and the numbers do nothing.

Each rate is tried for a minute (--step). Then two questions are asked: how
comfortable is it, and is the patient light-headed or short of breath? Pressing
a number asks the second one at any time. After the answers the next slower rate
is offered. (In a session 10 is the worst: there the numbers say how strong
symptoms are.)

With --steps the rate goes down by itself: by at most 1 a minute, from 7 on by a
half. Each step is tried for two minutes. The next one begins when both
questions are answered. (The lengths are from memory, without a source.)

It goes no slower
- once the patient is light-headed: then the pacing ends;
- once comfort has fallen by 2;
- under 6 a minute, the centre of slow-paced breathing (Lehrer et al. 2000),
  unless the rate before was tried for its whole time and then rated;
- under 4.5 a minute, unless --floor is lower.
Breathe softly, not deeply: of 16 people who breathed 6 times a minute for ten
minutes, 37.5 % over-breathed on the first day (PLoS One 2019;14(6):e0218550).

The rate it recommends is the most comfortable of those that were tried for
their whole time and then rated; between equals, the fastest. It is never one at
which the patient was light-headed, or a slower one. With it come a taper from
the rate at the start, in which each breath is within 5 % of the one before, and
a lead-in that is long enough for the taper. Nothing else in FILE changes, and
the old file is kept beside it as FILE.bak.

When the keys come from a file or a pipe, each line holds what is pressed until
the next question.`,
		Example: `  glidepace tune first-week.yaml
  glidepace tune first-week.yaml --from 14 --steps
  glidepace tune first-week.yaml --from 14 --print`,
		Args: cobra.ExactArgs(1),
		RunE: untilSignal(func(cmd *cobra.Command, args []string) error {
			unblock(cmd)
			t.in, t.out, t.err = cmd.InOrStdin(), cmd.OutOrStdout(), cmd.ErrOrStderr()
			t.toCount = !cmd.Flags().Changed("from")
			if !cmd.Flags().Changed("step") && t.Steps {
				t.Step = defaultStep
			}
			return t.tune(cmd.Context(), args[0])
		}),
	}
	f := cmd.Flags()
	f.Float64Var(&t.from, "from", 0, "the patient's own rate, 3 to 30 breaths a minute (default: count it first)")
	f.Float64Var(&t.Floor, "floor", rate.SlowPacedLow, "the slowest rate, 3 to 30 breaths a minute")
	f.BoolVar(&t.Steps, "steps", false, "go down by itself, by at most 1 a minute")
	f.DurationVar(&t.Step, "step", defaultStage, "how long a rate is tried, 1s to 10m; 2m0s with --steps")
	f.BoolVar(&t.print, "print", false, "print what would be written, and write nothing")
	f.StringVar(&t.sound, "sound", "auto", strings.Join(out.Ways, ", "))
	f.IntVar(&t.volume, "volume", sessions.DefaultSounds.Volume, "loudness, 0 to 100")
	return cmd
}

// tuneRun is one call of tune.
type tuneRun struct {
	tuner.Tuner
	from     float64
	toCount  bool // from is counted first
	print    bool
	sound    string
	volume   int
	in       io.Reader
	out, err io.Writer
}

func (t *tuneRun) check() error {
	switch {
	case t.volume < 0 || t.volume > 100:
		return console.Usagef("--volume %d: allowed is 0 to 100", t.volume)
	case t.Step < time.Second || t.Step > 10*time.Minute:
		return console.Usagef("--step %v: allowed is 1s to 10m", t.Step)
	case !(t.Floor >= pacer.MinRate && t.Floor <= pacer.MaxRate):
		return console.Usagef("--floor %g: allowed is 3 to 30 breaths a minute", t.Floor)
	case t.toCount && !console.IsTerminal(t.in):
		return console.Usagef("without a terminal nothing can be counted: say the rate with --from, such as --from 14")
	case !t.toCount && !(t.from >= pacer.MinRate && t.from <= pacer.MaxRate):
		return console.Usagef("--from %g: allowed is 3 to 30 breaths a minute", t.from)
	}
	return oneOf("sound", t.sound, out.Ways...)
}

func (t *tuneRun) tune(ctx context.Context, file string) error {
	if err := t.check(); err != nil {
		return err
	}
	timeline, err := live.Load(file)
	if err != nil {
		return err
	}
	if t.toCount {
		if err := t.count(ctx); err != nil {
			return err
		}
	}
	s := timeline.Session()
	start := tuner.StartBreath(s.Breath, t.from)
	if _, err := pacer.AtRest(start, 1); err != nil {
		return console.Usagef("from %.4g a minute: %w", t.from, err)
	}
	switch {
	case t.from < t.Floor:
		return console.Usagef("from %.4g a minute: the slowest rate is %.4g; --floor sets a slower one", t.from, t.Floor)
	case t.Steps && t.from == t.Floor:
		return console.Usagef("--steps: from %.4g a minute there is no slower step; leave out --steps", t.from)
	}
	signal.Ignore(syscall.SIGPIPE) // a reader of the lines may go; the terminal is put right
	t.Screen = console.NewStatusLine(t.out)
	var closeKeys func()
	t.Keys, closeKeys, err = tuner.Listen(t.in)
	if err != nil {
		return err
	}
	defer closeKeys()
	t.introduce(s.Title, start)
	if console.IsTerminal(t.in) && !t.begins(ctx) {
		return t.notBegun()
	}
	result := t.pace(ctx, start)
	if result.Why != "" {
		console.Say(t.out, "That is all: %s.", result.Why)
	}
	to, found := t.report(result.Tried, s)
	write := result.End == tuner.Write
	if found && result.End == tuner.Over && !t.print {
		console.Say(t.out, "w: write this into %s.  q: leave it as it is.", file)
		write = t.Keys.Await(ctx, "wq") == 'w'
	}
	closeKeys()
	switch {
	case found && t.print && result.End != tuner.Left:
		return nil
	case found && write:
		return t.write(file, to)
	}
	console.Say(t.out, "Nothing is written; %s is as it was.", file)
	return console.ExitError(console.ExitEarly)
}

// count counts the rate to start from.
func (t *tuneRun) count(ctx context.Context) error {
	r, err := counter.Keys(ctx, t.in, t.out)
	if errors.Is(err, context.Canceled) {
		return t.notBegun()
	}
	if err != nil {
		return err
	}
	t.from = math.Round(10*r.Rate) / 10
	fmt.Fprintf(t.out, "Counted: %.1f a minute (95 %% bounds: %.1f to %.1f).\n\n", r.Rate, r.RateLow, r.RateHigh)
	return nil
}

// begins asks the person whether to begin.
func (t *tuneRun) begins(ctx context.Context) bool {
	if t.toCount {
		// A key pressed at the next inhale, out of habit, begins nothing.
		breath, cancel := context.WithTimeout(ctx, time.Duration(1.5*60/t.from*float64(time.Second)))
		t.Keys.Await(breath, "")
		cancel()
	}
	fmt.Fprintln(t.out, "Enter: begin.  q: not now.")
	return t.Keys.Await(ctx, "\n\r q") != 'q'
}

func (t *tuneRun) notBegun() error {
	fmt.Fprintln(t.out, "Not begun.")
	return console.ExitError(console.ExitEarly)
}

// introduce tells the person what is about to happen, and the keys.
func (t *tuneRun) introduce(title string, start sessions.Breath) {
	p := console.NewPrinter(t.out)
	p.Wrap("", fmt.Sprintf("%s: the breath at rest, from %.4g a minute, inhale to exhale %s.", title, start.Rate, start.Ratio))
	if t.Steps {
		down := fmt.Sprint(t.from)
		length := t.Step
		for r := t.from; r > t.Floor; length += t.Step {
			r = max(t.Floor, rate.StepDown(r))
			down += fmt.Sprintf(", %g", r)
		}
		p.Wrap("", fmt.Sprintf("It goes down by itself: %s a minute, %s each (from memory, no source). All of it takes more than %s.", down, pacer.Clock(t.Step.Seconds()), pacer.Clock(length.Seconds())))
	} else {
		p.Wrap("", fmt.Sprintf("Each rate is tried for %s and then rated.", pacer.Clock(t.Step.Seconds())))
	}
	p.Wrap("", "Sit comfortably, your arms in your lap. Breathe softly, not deeply. Light-headed, short of breath, tingling around the mouth: say so at once (b), leave the pacing and breathe as you like.")
	p.Wrap("", "Ask before pacing the breath: "+cautions.AskBreath+".")
	p.Field("to end", "Enter: stop at once. b: light-headed or short of breath. w: write. q: leave.")
	p.Field("to change", "s: slower. f: faster. e: longer exhale. i: longer inhale.")
	p.Field("to rate", "0 (not at all comfortable) to 10 (the best), at any time")
	p.Line("")
}

// pace opens the sound and paces with the tuner. On return there is silence.
func (t *tuneRun) pace(ctx context.Context, start sessions.Breath) tuner.Result {
	notes := console.NewNotes(t.Screen.Writer(t.err))
	output, err := out.Open(t.sound, func(lost error) {
		if lost != nil {
			notes.Add("the sound is lost: %v; go by the screen", lost)
		} else {
			notes.Add("the sound is back")
		}
	})
	if err != nil {
		notes.Add("%v; go by the screen", err)
	}
	defer output.Close()
	cues := sounds.Settings{Parts: sessions.Parts{Tones: true, Ticks: true}, Volume: t.volume}
	t.Sound = sounds.NewLive(output, cues, 0)
	t.Piped = !console.IsTerminal(t.in)
	return t.Run(ctx, start)
}

// report says what was tried and what follows from it; false where nothing
// can be recommended.
func (t *tuneRun) report(tried []rate.Stage, s *sessions.Session) (sessions.Tuning, bool) {
	p := console.NewPrinter(t.out)
	p.Line("")
	if len(tried) == 0 {
		p.Line("No rate was tried.")
		return sessions.Tuning{}, false
	}
	yesNo := map[bool]string{true: "yes", false: "no"}
	tab := console.NewTable(t.out)
	tab.Row("A MINUTE", "RATIO", "TIME", "WHOLE TIME", "COMFORT", "LIGHT-HEADED")
	for _, stage := range tried {
		comfort := strings.Trim(strings.ReplaceAll(fmt.Sprint(stage.Comfort), " ", ", "), "[]")
		light := ""
		if stage.LightHeaded || len(stage.Comfort) > 0 {
			light = yesNo[stage.LightHeaded]
		}
		tab.Row(fmt.Sprintf("%.4g", stage.Rate), stage.Ratio.String(), pacer.Clock(stage.Seconds), yesNo[stage.Whole], comfort, light)
	}
	tab.Flush()
	p.Line("")
	best, ok := rate.Recommend(tried)
	if !ok {
		p.Wrap("", fmt.Sprintf("No rate can be recommended. It must be tried for %s and then rated, and be faster than any at which the patient was light-headed.", pacer.Clock(t.Step.Seconds())))
		return sessions.Tuning{}, false
	}
	to := sessions.Tuning{Rate: best.Rate, Ratio: best.Ratio, Taper: rate.TaperTo(t.from, best.Rate), LeadIn: s.LeadIn}
	p.Field("recommended", fmt.Sprintf("%.4g breaths a minute, inhale to exhale %s: the most comfortable; between equals, the faster", best.Rate, best.Ratio))
	breath := sessions.Breath{Match: s.Breath.Match, Pause: s.Breath.Pause, Rate: to.Rate, Ratio: to.Ratio, Taper: to.Taper}
	if to.Taper != nil {
		to.LeadIn = max(to.LeadIn, to.Taper.Breaths)
		q := math.Pow(t.from/best.Rate, 1/float64(to.Taper.Breaths))
		p.Field("taper", fmt.Sprintf("from %.4g a minute in %s, each within %.1f %% of the one before", t.from, sessions.Count(to.Taper.Breaths, "breath"), 100*(max(q, 1/q)-1)))
	} else {
		p.Field("taper", "none: it is the rate at the start")
	}
	if rest, err := pacer.AtRest(breath, to.LeadIn); err == nil && to.LeadIn > 0 {
		p.Field("lead-in", fmt.Sprintf("%s at rest, %s", sessions.Count(to.LeadIn, "breath"), pacer.Clock(rest.Duration)))
	}
	p.Line("")
	writeBlock(p, breath, to.LeadIn)
	p.Line("")
	return to, true
}

// writeBlock writes breath and lead-in as a session file has them.
func writeBlock(p *console.Printer, b sessions.Breath, leadIn int) {
	p.Line("breath:")
	p.Line("  match: %s", b.Match)
	p.Line("  rate: %g", b.Rate)
	p.Line("  ratio: %q", b.Ratio)
	p.Line("  pause: %v", b.Pause)
	if b.Taper != nil {
		p.Line("  taper: {from: %g, breaths: %d}", b.Taper.From, b.Taper.Breaths)
	}
	p.Line("lead_in: {breaths: %d}", leadIn)
}

// write changes the breath in the file, which may have been edited meanwhile.
func (t *tuneRun) write(file string, to sessions.Tuning) error {
	old, err := safefile.Read(file, fields.MaxSize)
	if err != nil {
		return live.OpenError(file, err)
	}
	tuned, err := sessions.Splice(file, old, to)
	if errors.Is(err, sessions.ErrInPlace) {
		return fmt.Errorf("%w: nothing is written. Put the lines above, breath and lead_in, in the place of those in the file", err)
	}
	if err != nil {
		return err
	}
	s, err := sessions.Parse(file, bytes.NewReader(tuned))
	if err == nil {
		_, limits := pacer.New(s)
		err = sessions.Join(file, limits)
	}
	if err != nil {
		return fmt.Errorf("nothing is written: with this breath the session would not be within its limits\n%w", err)
	}
	kept, err := safefile.Update(file, old, tuned)
	if err != nil {
		return fmt.Errorf("nothing is written: %w", err)
	}
	console.Say(t.out, "Written into %s; the old one is %s. glidepace check says what the session adds up to now.", file, kept)
	return nil
}
