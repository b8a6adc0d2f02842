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

	"glidepace/cmd/glidepace/internal/console"
	"glidepace/cmd/glidepace/internal/live"
	"glidepace/devices/box"
	"glidepace/devices/buzzer"
	"glidepace/devices/gpio"
	"glidepace/devices/screen"
	"glidepace/pacer"
	"glidepace/sessions"
	"glidepace/sessions/diary"
	"glidepace/sessions/history"
	"glidepace/sessions/progress"
	"glidepace/sounds"
	"glidepace/sounds/out"
)

func paceCommand() *cobra.Command {
	p := &paceRun{}
	cmd := &cobra.Command{
		Use:   "pace [FILE]",
		Short: "Do a session: hear it, see it, follow it",
		Long: `Paces a session in sound and on screen, and writes it into the diary. How many
repetitions it is today, and at what rate, follows from the file's rules and
from the diary; it is said before the session.

Keys: Enter stops for symptoms; space pauses at once and goes on; n is enough
for this set; d, in a neck glide, ends the session for a warning sign; q ends it.
Where the terminal is not a window, or for a screen reader, --screen lines writes
one plain line at each step.

What stands against a session is asked about first. Without a FILE it offers the session files of this folder.`,
		Example: `  glidepace pace
  glidepace pace first-week.yaml
  glidepace pace first-week.yaml --screen lines --volume 40
  glidepace pace first-week.yaml --parts tones,ticks      without the voice
  glidepace pace first-week.yaml --yes --sound off
  glidepace pace first-week.yaml --buzzer box.yaml        on a board with a motor
  glidepace pace first-week.yaml --teach       in the clinic`,
		Args: cobra.MaximumNArgs(1),
		RunE: untilSignal(func(cmd *cobra.Command, args []string) error {
			signal.Ignore(syscall.SIGPIPE) // a reader of the lines may go; the session does not
			p.in, p.out, p.errs = cmd.InOrStdin(), cmd.OutOrStdout(), cmd.ErrOrStderr()
			p.withCure = func(err error) error { return withCure(cmd, err) }
			p.notes = console.NewNotes(p.errs)
			if err := p.check(cmd); err != nil {
				return err
			}
			if len(args) == 0 {
				name, err := p.chooseFile(cmd.Context())
				if err != nil {
					return err
				}
				args = []string{name}
			}
			t, err := live.Load(args[0])
			if err != nil {
				return err
			}
			if t, err = takePlace(t, p.posture); err != nil {
				return err
			}
			if p.buzzer != "" {
				if p.box, err = loadBox(p.buzzer); err != nil {
					return err
				}
			}
			if p.teach {
				return p.teaching(cmd.Context(), args[0], t)
			}
			return p.pace(cmd.Context(), args[0], t)
		}),
	}
	f := cmd.Flags()
	f.BoolVarP(&p.yes, "yes", "y", false, "ask nothing, and begin; what would be asked about keeps the session away, see --extra")
	f.BoolVar(&p.extra, "extra", false, "do the session though it is beyond the dose, too soon, or against rest")
	f.BoolVar(&p.cleared, "cleared", false, "your clinician has cleared the neck glide after a warning sign; the diary keeps that you said so")
	f.BoolVar(&p.asPrescribed, "as-prescribed", false, "the whole session, whatever the rules make of today")
	f.BoolVar(&p.noRatings, "no-ratings", false, "do not ask how strong tingling and pain are")
	f.BoolVar(&p.teach, "teach", false, "three repetitions of each exercise in longer words; not in the diary")
	f.StringVar(&p.match, "match", "", "match breath and movement this `way` for once, at the same tempo of the movement:\nexhale-on-glide, breath-per-rep")
	postureFlag(cmd, &p.posture)
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
	yes, extra, cleared, asPrescribed, noRatings, teach bool
	match, posture, sound, screen, diary, buzzer        string
	heard                                               soundFlags
	offset                                              int // ms
	in                                                  io.Reader
	out, errs                                           io.Writer
	withCure                                            func(error) error // adds what helps against it

	box      *box.File // nil without --buzzer
	settings sounds.Settings
	output   *live.SoundOut // open from before the person begins

	notes   *console.Notes
	without []string // what the session has to do without, in a line each
	told    int      // lines of what is asked daily before the session is told of
	below   bool     // today's session is less than what is prescribed
}

// check refuses flags with values that are not allowed.
func (p *paceRun) check(cmd *cobra.Command) error {
	if err := p.heard.check(cmd); err != nil {
		return err
	}
	if p.offset < -mostOffset || p.offset > mostOffset {
		return console.Usagef("--sound-offset %d: allowed is -%d to %d milliseconds", p.offset, mostOffset, mostOffset)
	}
	if p.sound == "off" && p.screen == "off" && p.buzzer == "" {
		return console.Usagef("--sound off and --screen off leave nothing to follow; take one of them away")
	}
	if p.match != "" {
		if err := oneOf("match", p.match, sessions.ExhaleOnGlide.String(), sessions.BreathPerRep.String()); err != nil {
			return err
		}
	}
	return errors.Join(
		checkPosture(p.posture),
		oneOf("sound", p.sound, out.Ways...),
		oneOf("screen", p.screen, "auto", "full", "lines", "off"),
	)
}

// openBuzzer opens the buzzer that --buzzer names, nil where it does not. It
// has to be closed.
func (p *paceRun) openBuzzer(notes *console.Notes) (b *buzzer.Buzzer, close func(), err error) {
	if p.box == nil {
		return nil, func() {}, nil
	}
	pin, err := gpio.OpenOutput(p.box.Buzzer)
	if err != nil {
		return nil, nil, fmt.Errorf("buzzer: %w", err)
	}
	b = buzzer.New(buzzer.NewPinMotor(pin, p.box.Lead), p.box.Lead, func(err error) { notes.Add("buzzer: %v", err) })
	return b, func() { b.Close(); pin.Close() }, nil
}

// openSound opens the way out for the session of the named file and loads how
// it is to sound, before the person begins: what it has to do without is told
// by then. That keeps no session away for which there is something to follow.
func (p *paceRun) openSound(ctx context.Context, file string, s *sessions.Session) error {
	if p.sound != "off" {
		settings, notes := live.LoadSoundsToFollow(ctx, file, p.heard.of(s), p.errs)
		if ctx.Err() != nil {
			return console.ExitError(console.ExitEarly)
		}
		p.settings = settings
		p.without = append(p.without, notes...)
	}
	var err error
	p.output, err = live.OpenSound(p.sound, p.notes)
	if err == nil {
		return nil
	}
	follow := "the screen"
	switch {
	case p.screen == "off" && p.box == nil:
		return fmt.Errorf("%w; with --screen off there is nothing to follow", err)
	case p.screen == "off":
		follow = "the buzzer"
	}
	if p.sound == "auto" { // each way that failed, with its cure, is for whoever asks for it
		err = errors.New("no sound: no sound server answers, and there is no sound card")
	}
	p.without = append(p.without, fmt.Sprintf("%v; there is %s to follow", err, follow))
	return nil
}

// pace does today's session of what the named file prescribes.
func (p *paceRun) pace(ctx context.Context, file string, prescribed *pacer.Timeline) error {
	p.diary = diaryPath(p.diary)
	s := prescribed.Session()
	now := time.Now()
	var err error
	past, trouble := history.Read(diary.Options{}, p.diary, s, sessions.DateOf(now))
	if trouble != nil {
		past.Day = sessions.DateOf(now)
		p.without = append(p.without, fmt.Sprintf("%v; what is not in the diary is printed at the end", p.withCure(trouble)))
	}
	if past, err = p.askDay(ctx, s, past, now); err != nil {
		return err
	}
	pass, err := p.gate(ctx, s, progress.Gate(s, past.Entries, past.Clock(now)), past.Clock(now))
	if err != nil {
		return err
	}
	if p.keepMorning(pass, past.Clock(now)) { // it may change what today is
		if again, err := history.Read(diary.Options{}, p.diary, s, sessions.DateOf(now)); err == nil {
			past = again
		}
	}
	b, level, err := p.today(prescribed, past, pass.noNeck)
	if err != nil {
		return err
	}
	if trouble != nil {
		b.special = append(b.special, "Without the diary this is the whole prescription: if your last session was gentler or shorter, ask your clinician first.")
	}
	if err := p.openSound(ctx, file, b.Session()); err != nil {
		return err
	}
	defer p.output.Close()
	if err := p.brief(ctx, b, past.Done > 0); err != nil {
		return err
	}
	var before sessions.Ratings
	if p.asks() {
		if before, err = p.rate(ctx); err != nil {
			return p.notBegun("")
		}
		if err := p.strong(ctx, before); err != nil {
			return err
		}
	}
	if err := p.agree(ctx, b); err != nil {
		return err
	}
	entry := past.Dated(history.NewEntry(b.Timeline, time.Now(), s.Hash(), history.PlanOf(s, level, p.match), pass.extra))
	entry.Before, entry.Cleared = before, pass.cleared
	return p.live(ctx, b.Timeline, &entry)
}

// live runs the session, and writes it into the diary as the entry begins: nil
// is for one that is kept nowhere.
func (p *paceRun) live(ctx context.Context, t *pacer.Timeline, entry *diary.Session) error {
	buzz, closeBuzzer, err := p.openBuzzer(p.notes)
	if err != nil {
		return err
	}
	defer closeBuzzer()
	s := &live.Session{
		In: p.in, Out: p.out, Screen: p.screen, Notes: p.notes, Buzzer: buzz,
		Sound: p.output, Sounds: p.settings, Offset: time.Duration(p.offset) * time.Millisecond,
	}
	var record func() *live.Record
	if entry != nil {
		entry.Sound = p.output.Name()
		record = func() *live.Record {
			return live.NewRecord(diary.Options{}, p.diary, t, *entry, func(err error) { p.notes.Add("%v", p.withCure(err)) })
		}
	}
	over, err := s.Run(ctx, t, record)
	if err != nil {
		return err
	}
	result, b := over.Result, over.Record
	words := live.Summary(t, result)
	switch advice := screen.ClosingAdvice(result.Outcome, result.Answer); {
	case over.Advised:
	case unwell(result.Answer): // what to do comes first
		words = advice + "\n" + words
	default:
		words += " " + advice
	}
	for line := range strings.SplitSeq(words, "\n") {
		p.say(line)
	}
	if b != nil {
		var after sessions.Ratings
		result.Outcome, after = p.after(ctx, b, result, entry.Before, t.Neck())
		if lost := b.Close(); lost != nil {
			fmt.Fprintf(p.errs, "glidepace: %v\nPlease write this down:\n%s", p.withCure(lost), lost.Session)
		} else {
			p.farewell(t.Session(), entry.Started, result.Outcome, entry.Before.Whole() && after.Whole())
		}
	}
	switch result.Outcome {
	case sessions.EndedEarly:
		return console.ExitError(console.ExitEarly)
	case sessions.Symptoms:
		return console.ExitError(console.ExitSymptoms)
	}
	return nil
}

// brief tells of a session before it begins: shortly where its prescription is
// known.
func (p *paceRun) brief(ctx context.Context, b briefing, known bool) error {
	width := console.NewPrinter(p.out).Width
	questions := console.Height(width, toBegin)
	if p.asks() {
		questions += console.Height(width, tinglingNow) + console.Height(width, painNow)
	}
	for _, text := range p.without {
		questions += console.Height(width, console.NoteLead+text)
	}
	list := b.first(width)
	if known {
		list = b.daily(width, dailyLines-questions-p.told)
	}
	if err := p.show(ctx, list, questions, false); err != nil {
		return p.notBegun("")
	}
	return nil
}

// today lays out today's session: at the level that the diary makes it, matched
// as was asked for, without the neck glide where that is shut.
func (p *paceRun) today(prescribed *pacer.Timeline, past history.Past, noNeck bool) (b briefing, level pacer.Level, err error) {
	s := prescribed.Session()
	level = pacer.Prescribed(s)
	if !p.asPrescribed {
		a := progress.Today(s, past.Entries, past.Day)
		level, b.why = a.Level, a.Why
		p.below = level != pacer.Prescribed(s)
	}
	if level.NoNeck = noNeck; noNeck {
		b.special = append(b.special, "The neck glide is left out.")
	}
	matched := past.Posture(s)
	if p.match != "" {
		m := sessions.ExhaleOnGlide
		if p.match == sessions.BreathPerRep.String() {
			m = sessions.BreathPerRep
		}
		if matched, err = pacer.Rematch(matched, m); err != nil {
			return b, level, err
		}
		tempo := pacer.TempoOf(matched, matched.Exercises[0], m)
		b.special = append(b.special, fmt.Sprintf("For this session %s: %.3g breaths a minute, %s.", m, tempo.Rate, movementWords(tempo)))
		b.special = append(b.special, newCautions(prescribed, matched)...)
	}
	b.standing = history.Standing(s.Dose, past.Day, past.DoneToday) // what is beyond it, the gate has said
	b.Timeline, err = pacer.NewAt(matched, level)
	return b, level, err
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
func (p *paceRun) teaching(ctx context.Context, file string, prescribed *pacer.Timeline) error {
	s := *prescribed.Session()
	past, err := history.Read(diary.Options{}, diaryPath(p.diary), &s, sessions.DateOf(time.Now()))
	if err != nil {
		p.without = append(p.without, err.Error())
	}
	now := past.Clock(time.Now())
	for _, h := range progress.Gate(&s, past.Entries, now) {
		if h.Kind == progress.NeckShut && !p.cleared {
			return p.notBegun(h.Message(now) + " " + thenCleared)
		}
	}
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
	if err := p.openSound(ctx, file, &s); err != nil {
		return err
	}
	defer p.output.Close()
	b := briefing{Timeline: t, special: []string{"To learn the movements; nothing of this goes into the diary."}}
	width := console.NewPrinter(p.out).Width
	if err := p.show(ctx, append(b.first(width), b.watch(width)...), 1, false); err != nil {
		return p.notBegun("")
	}
	if err := p.agree(ctx, b); err != nil {
		return err
	}
	return p.live(ctx, t, nil)
}

const toBegin = "Enter: begin.  m: more to read.  q: not now. "

// agree has the person begin the session, or gives the exit code. What it has
// to do without is said right before.
func (p *paceRun) agree(ctx context.Context, b briefing) error {
	for _, text := range p.without {
		p.notes.Add("%s", text)
	}
	for !p.yes {
		key, err := console.Choose(ctx, p.in, p.out, toBegin, "\nmq", 0)
		if err == nil && key == 'm' {
			width := console.NewPrinter(p.out).Width
			err = p.show(ctx, b.everything(width), console.Height(width, toBegin), true)
		}
		switch {
		case err != nil || key == 'q':
			return p.notBegun("")
		case key == '\n':
			return nil
		}
	}
	return nil
}

func lowerFirst(s string) string { return strings.ToLower(s[:1]) + s[1:] }
