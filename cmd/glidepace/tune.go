package main

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"io"
	"math"
	"os"
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
	"glidepace/sessions/safefile"
	"glidepace/sounds"
	"glidepace/sounds/out"
)

func tuneCommand() *cobra.Command {
	t := &tuneRun{}
	cmd := &cobra.Command{
		Use:   "tune FILE",
		Short: "Find a comfortable breath rate and write it into a session file",
		Long: `Paces the breath at rest, without any movement, to find the rate and ratio that
suit an anxious patient. It is for the clinic, with the clinician beside them.
It starts at the rate that the patient breathes at: --from, or a fresh count.

Keys that end it: Enter stops the pacing at once; b is for light-headed or short
of breath; q leaves the file as it is; w writes.
Keys that change the breath: s slower (about a tenth), f faster, e longer
exhale, i longer inhale. A change begins with the next breath and goes by 5 % a
breath at most. Until it is there these keys do nothing.

Each rate is tried for a minute (--step). Then, and whenever a number is
pressed, it asks two things. How comfortable is it, 0 (not at all) to 10 (the
best)? Light-headed or short of breath? (In a session the numbers say how strong
symptoms are: there 10 is the worst.) Then it offers the next slower rate.

With --steps it goes down by itself from the rate at the start: by 1 a minute at
most, from 7 on by a half. Each step is tried for two minutes, and it goes on
when both questions are answered. (These lengths are from memory, no source.)

It goes no slower once comfort has fallen by 2, and says why. Light-headedness
ends the pacing. Under 6 a minute, the centre of slow-paced breathing (Lehrer et
al. 2000), it goes only from a rate that was tried for its whole time and then
rated; under 4.5 only with a lower --floor. Softly, not deeply: of 16 people who
breathed 6 times a minute for ten minutes 37.5 % over-breathed on the first day
(PLoS One 2019;14(6):e0218550).

It recommends the most comfortable of the rates that were tried for their whole
time and rated; of equals the faster; never one at which the patient got
light-headed, nor one under it. With it comes a taper from the rate at the
start, each breath within 5 % of the one before, and a lead-in in which the
taper runs at rest. It changes these fields in the file and nothing else, and
keeps the old file beside it as FILE.bak.

Where the keys come from a file or a pipe, each line is what is pressed until
the next question.`,
		Example: `  glidepace tune first-week.yaml
  glidepace tune first-week.yaml --from 14 --steps
  glidepace tune first-week.yaml --from 14 --print`,
		Args: cobra.ExactArgs(1),
		RunE: untilSignal(func(cmd *cobra.Command, args []string) error {
			t.in, t.out, t.err = cmd.InOrStdin(), cmd.OutOrStdout(), cmd.ErrOrStderr()
			t.fresh = !cmd.Flags().Changed("from")
			if !cmd.Flags().Changed("step") && t.steps {
				t.step = tuner.DefaultStep
			}
			return t.tune(cmd.Context(), args[0])
		}),
	}
	f := cmd.Flags()
	f.Float64Var(&t.from, "from", 0, "breaths a minute that the patient breathes at, up to 30 (default: count them first)")
	f.Float64Var(&t.floor, "floor", rate.SlowPacedLow, "breaths a minute under which nothing goes, 3 to 30")
	f.BoolVar(&t.steps, "steps", false, "go down by itself, by 1 a minute at most")
	f.DurationVar(&t.step, "step", tuner.DefaultStage, "how long a rate is tried before it is asked about, 1s to 10m; 2m0s with --steps")
	f.BoolVar(&t.print, "print", false, "print what would be written, and write nothing")
	f.StringVar(&t.sound, "sound", "auto", strings.Join(out.Ways, ", "))
	f.IntVar(&t.volume, "volume", sessions.DefaultSounds.Volume, "loudness, 0 to 100")
	return cmd
}

// tuneRun is one call of tune.
type tuneRun struct {
	from, floor         float64
	fresh, steps, print bool
	step                time.Duration
	sound               string
	volume              int
	in                  io.Reader
	out, err            io.Writer
}

func (t *tuneRun) check() error {
	switch {
	case t.volume < 0 || t.volume > 100:
		return console.Usagef("--volume %d: allowed is 0 to 100", t.volume)
	case t.step < time.Second || t.step > 10*time.Minute:
		return console.Usagef("--step %v: allowed is 1s to 10m", t.step)
	case !(t.floor >= pacer.MinRate && t.floor <= pacer.MaxRate):
		return console.Usagef("--floor %g: allowed is 3 to 30 breaths a minute", t.floor)
	case t.fresh && !console.IsTerminal(t.in):
		return console.Usagef("without a terminal nothing can be counted: say the rate with --from, such as --from 14")
	case !t.fresh && !(t.from >= pacer.MinRate && t.from <= pacer.MaxRate):
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
	if t.fresh {
		r, err := counter.Keys(ctx, t.in, t.out)
		if errors.Is(err, context.Canceled) {
			fmt.Fprintln(t.out, "Not begun.")
			return console.ExitError(console.ExitEarly)
		}
		if err != nil {
			return err
		}
		t.from = math.Round(10*r.Rate) / 10
		fmt.Fprintf(t.out, "Counted: %.1f a minute (95 %% bounds: %.1f to %.1f).\n\n", r.Rate, r.RateLow, r.RateHigh)
	}
	s := timeline.Session()
	start := tuner.StartBreath(s.Breath, t.from)
	if _, err := pacer.AtRest(start, 1); err != nil {
		return console.Usagef("from %.4g a minute: %w", t.from, err)
	}
	switch {
	case t.from < t.floor:
		return console.Usagef("from %.4g a minute: nothing goes under %.4g; --floor says otherwise", t.from, t.floor)
	case t.steps && t.from == t.floor:
		return console.Usagef("--steps: from %.4g a minute there is no step that is slower; leave --steps out", t.from)
	}
	signal.Ignore(syscall.SIGPIPE) // a reader of the lines may go; the terminal is put right
	show := console.NewStatusLine(t.out)
	keys, closeKeys, err := tuner.Keys(t.in)
	if err != nil {
		return err
	}
	defer closeKeys()
	t.introduce(s.Title, start)
	if console.IsTerminal(t.in) {
		if t.fresh {
			// Who counted may press at the next inhale too: that begins nothing.
			breath, cancel := context.WithTimeout(ctx, time.Duration(1.5*60/t.from*float64(time.Second)))
			tuner.AwaitKey(breath, keys, "")
			cancel()
		}
		fmt.Fprintln(t.out, "Enter: begin.  q: not now.")
		if tuner.AwaitKey(ctx, keys, "\n\r q") == 'q' {
			fmt.Fprintln(t.out, "Not begun.")
			return console.ExitError(console.ExitEarly)
		}
	}
	tried, end, why := t.live(ctx, keys, show, start)
	if why != "" {
		fmt.Fprintf(t.out, "That is all: %s.\n", why)
	}
	to, found := t.report(tried, s)
	if found && end == tuner.Over && !t.print {
		fmt.Fprintf(t.out, "w: write this into %s.  q: leave it as it is.\n", file)
		if tuner.AwaitKey(ctx, keys, "wq") == 'w' {
			end = tuner.Write
		}
	}
	closeKeys()
	switch {
	case !found || end == tuner.Left || end == tuner.Over && !t.print:
		fmt.Fprintf(t.out, "Nothing is written; %s is as it was.\n", file)
		return console.ExitError(console.ExitEarly)
	case t.print:
		return nil
	}
	return t.write(file, to)
}

// introduce says what is about to be done.
func (t *tuneRun) introduce(title string, start sessions.Breath) {
	p := console.NewPrinter(t.out)
	p.Wrap("", fmt.Sprintf("%s: the breath at rest, from %.4g a minute, inhale to exhale %s.", title, start.Rate, start.Ratio))
	if t.steps {
		down := fmt.Sprint(t.from)
		length := t.step
		for r := t.from; r > t.floor; length += t.step {
			r = max(t.floor, rate.StepDown(r))
			down += fmt.Sprintf(", %g", r)
		}
		p.Wrap("", fmt.Sprintf("It goes down by itself: %s a minute, %s each, a length from memory and not from a source. All of it takes more than %s.", down, pacer.Clock(t.step.Seconds()), pacer.Clock(length.Seconds())))
	} else {
		p.Wrap("", fmt.Sprintf("Each rate is tried for %s and then rated.", pacer.Clock(t.step.Seconds())))
	}
	p.Wrap("", "Sit at ease, the arms in the lap. Breathe softly, not deeply. Light-headed, short of breath, tingling around the mouth: say so at once, leave the pacing and breathe as you like (b).")
	p.Wrap("", "Ask before pacing the breath: "+cautions.AskBreath+".")
	p.Field("to end", "Enter: stop at once. b: light-headed or short of breath. w: write. q: leave.")
	p.Field("to change", "s: slower. f: faster. e: longer exhale. i: longer inhale.")
	p.Field("to rate", "0 (not at all comfortable) to 10 (the best), at any time")
	p.Line("")
}

// live tries ways of breathing with the patient. On return there is silence.
func (t *tuneRun) live(ctx context.Context, keys <-chan rune, show *console.StatusLine, start sessions.Breath) ([]rate.Stage, tuner.Ending, string) {
	notes := console.NewNotes(show.Writer(t.err))
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
	seek := &tuner.Tuner{Sound: sounds.NewLive(output, sounds.Settings{Parts: sessions.Parts{Tones: true, Ticks: true}, Volume: t.volume}, 0), Keys: keys, Piped: !console.IsTerminal(t.in), Screen: show, Steps: t.steps, Step: t.step, Floor: t.floor}
	end, why := seek.Run(ctx, start)
	return seek.Tried, end, why
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
	tab := console.NewTable(t.out)
	tab.Row("A MINUTE", "RATIO", "TIME", "WHOLE TIME", "COMFORT", "LIGHT-HEADED")
	for _, stage := range tried {
		comfort := strings.Trim(strings.ReplaceAll(fmt.Sprint(stage.Comfort), " ", ", "), "[]")
		whole, light := "no", ""
		if stage.Whole {
			whole = "yes"
		}
		switch {
		case stage.LightHeaded:
			light = "yes"
		case len(stage.Comfort) > 0:
			light = "no"
		}
		tab.Row(fmt.Sprintf("%.4g", stage.Rate), stage.Ratio.String(), pacer.Clock(stage.Seconds), whole, comfort, light)
	}
	tab.Flush()
	p.Line("")
	best, ok := rate.Recommend(tried)
	if !ok {
		p.Wrap("", fmt.Sprintf("No rate can be recommended. It takes one that was tried for %s and then rated, and that is faster than any at which the patient was light-headed.", pacer.Clock(t.step.Seconds())))
		return sessions.Tuning{}, false
	}
	to := sessions.Tuning{Rate: best.Rate, Ratio: best.Ratio, Taper: rate.TaperTo(t.from, best.Rate), LeadIn: s.LeadIn}
	p.Field("recommended", fmt.Sprintf("%.4g breaths a minute, inhale to exhale %s: the most comfortable, of equals the faster", best.Rate, best.Ratio))
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
	old, err := os.ReadFile(file)
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
		return fmt.Errorf("nothing is written: with this breath the session would not be within its limits:\n%w", err)
	}
	kept, err := safefile.Update(file, old, tuned)
	if err != nil {
		return fmt.Errorf("nothing is written: %w", err)
	}
	fmt.Fprintf(t.out, "Written into %s; the old one is %s. glidepace check says what the session adds up to now.\n", file, kept)
	return nil
}
