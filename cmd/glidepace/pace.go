package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"os/signal"
	"slices"
	"strings"
	"syscall"
	"time"

	"github.com/spf13/cobra"

	"glidepace/devices/box"
	"glidepace/devices/buzzer"
	"glidepace/devices/gpio"
	"glidepace/pacer"
	"glidepace/sessions"
	"glidepace/sessions/diary"
	"glidepace/sessions/progress"
	"glidepace/sounds"
	"glidepace/sounds/out"
)

func paceCommand() *cobra.Command {
	p := &paceRun{}
	cmd := &cobra.Command{
		Use:   "pace FILE",
		Short: "Do a session: hear it, see it, follow it",
		Long: `Paces a session in sound and on screen, and writes it into the diary. How many
repetitions it is today, and at what rate, follows from the file's rules and
from the diary; it is said before the session.

Keys: Enter stops for symptoms; space pauses at once and goes on; n is enough
for this set; q ends the session. Where the terminal is not a window, or for a
screen reader, --screen lines writes one plain line at each step.`,
		Example: `  glidepace pace first-week.yaml
  glidepace pace first-week.yaml --screen lines --volume 40
  glidepace pace first-week.yaml --parts tones,ticks      without the voice
  glidepace pace first-week.yaml --yes --sound off
  glidepace pace first-week.yaml --buzzer box.yaml        on a board with a motor
  glidepace pace first-week.yaml --teach       in the clinic`,
		Args: cobra.ExactArgs(1),
		RunE: untilSignal(func(cmd *cobra.Command, args []string) error {
			signal.Ignore(syscall.SIGPIPE) // a reader of the lines may go; the session does not
			p.in, p.out, p.errs = cmd.InOrStdin(), cmd.OutOrStdout(), cmd.ErrOrStderr()
			if err := p.check(cmd); err != nil {
				return err
			}
			t, err := loadTimeline(args[0])
			if err != nil {
				return err
			}
			if p.buzzer != "" {
				if p.box, err = loadBox(p.buzzer); err != nil {
					return err
				}
			}
			if err := p.loadSound(cmd.Context(), args[0], t.Session()); err != nil {
				return err
			}
			if p.teach {
				return p.teaching(cmd.Context(), t)
			}
			return p.pace(cmd.Context(), t)
		}),
	}
	f := cmd.Flags()
	f.BoolVarP(&p.yes, "yes", "y", false, "begin without asking anything")
	f.BoolVar(&p.extra, "extra", false, "do the session though it is beyond the dose or after pain")
	f.BoolVar(&p.asPrescribed, "as-prescribed", false, "the whole session, whatever the rules make of today")
	f.BoolVar(&p.noRatings, "no-ratings", false, "do not ask how strong tingling and pain are")
	f.BoolVar(&p.teach, "teach", false, "three repetitions of each exercise in longer words; not in the diary")
	f.StringVar(&p.match, "match", "", "match breath and movement this `way` for once, at the same tempo of the movement:\nexhale-on-glide, breath-per-rep")
	f.StringVar(&p.sound, "sound", "auto", strings.Join(out.Ways, ", "))
	f.IntVar(&p.offset, "sound-offset", 0, "how many `milliseconds` later than told the sound is heard,\nas with wireless headphones or aplay; screen and keys follow")
	f.StringVar(&p.buzzer, "buzzer", "", "buzz along, with the motor that this box `file` says; see box wiring")
	p.heard.add(cmd)
	f.StringVar(&p.screen, "screen", "auto", "full, lines, off; auto is full on a terminal, else lines")
	f.StringVar(&p.diary, "diary", "", "the diary's `file` (default in the XDG state folder)")
	return cmd
}

const mostOffset = 2000 // ms that sound may be heard sooner or later than told

// paceRun is one call of pace.
type paceRun struct {
	yes, extra, asPrescribed, noRatings, teach bool
	match, sound, screen, diary, buzzer        string
	heard                                      soundFlags
	offset                                     int // ms
	how                                        sounds.Settings
	box                                        *box.File // nil without --buzzer
	in                                         io.Reader
	out, errs                                  io.Writer
}

// check refuses flags with values that are not allowed.
func (p *paceRun) check(cmd *cobra.Command) error {
	if err := p.heard.check(cmd); err != nil {
		return err
	}
	if p.offset < -mostOffset || p.offset > mostOffset {
		return usageError{fmt.Errorf("--sound-offset %d: allowed is -%d to %d milliseconds", p.offset, mostOffset, mostOffset)}
	}
	if p.sound == "off" && p.screen == "off" && p.buzzer == "" {
		return usageError{errors.New("--sound off and --screen off leave nothing to follow; take one of them away")}
	}
	if p.match != "" {
		if err := oneOf("match", p.match, sessions.ExhaleOnGlide.String(), sessions.BreathPerRep.String()); err != nil {
			return err
		}
	}
	return errors.Join(
		oneOf("sound", p.sound, out.Ways...),
		oneOf("screen", p.screen, "auto", "full", "lines", "off"),
	)
}

// openBuzzer opens the buzzer that --buzzer names, nil where it does not. It
// has to be closed.
func (p *paceRun) openBuzzer(notes *notes) (b *buzzer.Buzzer, close func(), err error) {
	if p.box == nil {
		return nil, func() {}, nil
	}
	pin, err := gpio.OpenOutput(p.box.Buzzer)
	if err != nil {
		return nil, nil, fmt.Errorf("buzzer: %w", err)
	}
	b = buzzer.New(buzzer.NewPinMotor(pin, p.box.Lead), p.box.Lead, func(err error) { notes.add("buzzer: %v", err) })
	return b, func() { b.Close(); pin.Close() }, nil
}

// loadSound says how the session of the named file is to sound. A voice that
// cannot be loaded is left out: the session is worth more than its words.
func (p *paceRun) loadSound(ctx context.Context, file string, s *sessions.Session) error {
	if p.sound == "off" {
		return nil
	}
	how, notes, err := p.heard.settings(ctx, file, s, p.errs)
	if ctx.Err() != nil {
		return exitError(exitEarly)
	}
	if err != nil {
		notes = append(notes, voiceTrouble(how, err))
	}
	p.how, notes = audible(how, notes)
	for _, n := range notes {
		fmt.Fprintln(p.errs, "glidepace: "+n)
	}
	return nil
}

// pace does today's session of what is prescribed.
func (p *paceRun) pace(ctx context.Context, prescribed *pacer.Timeline) error {
	p.diary = diaryPath(p.diary)
	s := prescribed.Session()
	now := time.Now()
	past, trouble := lookBack(diary.Options{}, p.diary, s, sessions.DateOf(now))
	if trouble != nil {
		fmt.Fprintf(p.errs, "glidepace: %v\nThe session can be done; what is not in the diary is printed at its end.\n", trouble)
	}
	t, special, level, err := p.today(prescribed, past, now)
	if err != nil {
		return err
	}
	if trouble != nil {
		special = append(special, "Without the diary this is the whole prescription: if your last session was gentler or shorter, ask your clinician first.")
	}
	st := standingOf(s.Dose, sessions.DateOf(now), past.today)
	if err := writeBriefing(p.out, t, st, special, past.known); err != nil {
		return err
	}
	beyond := st.beyond
	if past.pain != nil {
		beyond = fmt.Sprintf("The session at %s today was ended by pain", past.pain.Started.Format("15:04"))
		fmt.Fprintf(p.out, "%s. Ask your clinician before you do another one.\n\n", beyond)
	}
	if err := p.allow(ctx, beyond); err != nil {
		return err
	}
	var before sessions.Ratings
	if p.asks() {
		if before, err = p.rate(ctx); err != nil {
			fmt.Fprintln(p.out, "Not begun.")
			return exitError(exitEarly)
		}
	}
	if err := p.agree(ctx); err != nil {
		return err
	}
	return p.session(ctx, t, &intent{
		entry: newEntry(t, now, s.Hash(), planOf(s, level, p.match), beyond != ""), before: before,
	})
}

// today lays out today's session: at the level that the diary makes it, and
// matched as was asked for. special says in a sentence each what is not as
// prescribed.
func (p *paceRun) today(prescribed *pacer.Timeline, past past, now time.Time) (t *pacer.Timeline, special []string, level pacer.Level, err error) {
	s := prescribed.Session()
	level = pacer.Prescribed(s)
	if !p.asPrescribed {
		a := progress.Today(s, past.entries, sessions.DateOf(now))
		level = a.Level
		special = append(special, a.Why)
	}
	matched := s
	if p.match != "" {
		m := sessions.ExhaleOnGlide
		if p.match == sessions.BreathPerRep.String() {
			m = sessions.BreathPerRep
		}
		if matched, err = pacer.Rematch(s, m); err != nil {
			return nil, nil, level, err
		}
		tempo := pacer.TempoOf(matched, matched.Exercises[0], m)
		special = append(special, fmt.Sprintf("For this session %s: %.3g breaths a minute, %s.", m, tempo.Rate, movementWords(tempo)))
		special = append(special, newCautions(prescribed, matched)...)
	}
	t, err = pacer.NewAt(matched, level)
	return t, special, level, err
}

// newCautions lists what wants care in a session that was matched the other
// way and did not before.
func newCautions(prescribed *pacer.Timeline, matched *sessions.Session) (list []string) {
	t, err := pacer.New(matched)
	if err != nil {
		return nil // Rematch gives what is inside the limits
	}
	before := pacer.Cautions(prescribed)
	for _, c := range pacer.Cautions(t) {
		if !slices.Contains(before, c) {
			list = append(list, "Take care: "+c.Text+".")
		}
	}
	return list
}

// teaching shows the movements in the clinic: three repetitions of each
// exercise in longer words, kept nowhere.
func (p *paceRun) teaching(ctx context.Context, prescribed *pacer.Timeline) error {
	s := *prescribed.Session()
	s.Exercises = slices.Clone(s.Exercises)
	for i := range s.Exercises {
		e := &s.Exercises[i]
		e.Sets, e.Reps = 1, min(3, e.Reps)
		e.Glide.Cues.Out, e.Glide.Cues.Back = strings.TrimSuffix(e.Glide.Out, "."), strings.TrimSuffix(e.Glide.Back, ".")
	}
	t, err := pacer.New(&s)
	if err != nil {
		return err
	}
	if err := writeBriefing(p.out, t, standing{}, []string{"To learn the movements; nothing of this goes into the diary."}, false); err != nil {
		return err
	}
	for _, e := range s.Exercises {
		if len(e.Glide.Watch) > 0 {
			writeWatch(p.out, e.Glide)
		}
	}
	if err := p.agree(ctx); err != nil {
		return err
	}
	return p.session(ctx, t, nil)
}

// allow asks whether a session is to be done that is beyond the dose or after
// pain: beyond says which, "" for neither.
func (p *paceRun) allow(ctx context.Context, beyond string) error {
	switch {
	case beyond == "" || p.extra:
		return nil
	case p.yes:
		fmt.Fprintf(p.errs, "glidepace: not begun: %s; --extra does the session all the same\n", lowerFirst(beyond))
		return exitError(exitEarly)
	}
	answer, err := ask(ctx, p.in, p.out, "Do a session all the same? y and Enter: yes; Enter: no. ")
	if err == nil && strings.HasPrefix(strings.ToLower(answer), "y") {
		return nil
	}
	fmt.Fprintln(p.out, "Not begun.")
	return exitError(exitEarly)
}

// agree has the person begin the session, or gives the exit code.
func (p *paceRun) agree(ctx context.Context) error {
	for !p.yes {
		answer, err := ask(ctx, p.in, p.out, "Enter: begin.  c and Enter: all cautions.  q and Enter: not now. ")
		switch {
		case err != nil || strings.EqualFold(answer, "q"):
			fmt.Fprintln(p.out, "Not begun.")
			return exitError(exitEarly)
		case answer == "":
			return nil
		case strings.EqualFold(answer, "c"):
			writeCautions(p.out)
		}
	}
	return nil
}

func lowerFirst(s string) string { return strings.ToLower(s[:1]) + s[1:] }
