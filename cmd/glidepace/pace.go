package main

import (
	"context"
	"errors"
	"fmt"
	"os/signal"
	"slices"
	"strings"
	"syscall"
	"time"

	"github.com/spf13/cobra"

	"glidepace/cmd/glidepace/internal/console"
	"glidepace/cmd/glidepace/internal/live"
	"glidepace/cmd/glidepace/internal/terminal"
	"glidepace/devices/box"
	"glidepace/devices/buzzer"
	"glidepace/devices/gpio"
	"glidepace/devices/patient"
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
		Long: `Paces today's session in sound and on screen, and writes it into the diary. The
rules in the file and the diary decide how many repetitions it has today, and at
what rate. Before the session it says so.

Keys: Enter stops for symptoms; space pauses at once, and goes on again; n means
enough for this set; d, in a neck glide, ends the session for a warning sign; q
ends it. For a screen reader, or where there is no full screen, --screen lines
writes one plain line at each step.

If something speaks against a session now, it asks first. Without FILE it offers
the session files of this folder, the newest nine if there are more.`,
		Example: `  glidepace pace
  glidepace pace first-week.yaml
  glidepace pace first-week.yaml --screen lines --volume 40
  glidepace pace first-week.yaml --parts tones,ticks      without the voice
  glidepace pace first-week.yaml --yes --sound off
  glidepace pace first-week.yaml --buzzer box.yaml     on a board with a motor
  glidepace pace first-week.yaml --teach       in the clinic`,
		Args: cobra.MaximumNArgs(1),
		RunE: untilSignal(func(cmd *cobra.Command, args []string) error {
			unblock(cmd)
			signal.Ignore(syscall.SIGPIPE) // a reader of the lines may go; the session does not
			p.In, p.Out, p.Errs = cmd.InOrStdin(), cmd.OutOrStdout(), cmd.ErrOrStderr()
			p.WithCure = func(err error) error { return withCure(cmd, err) }
			p.Notes = console.NewNotes(p.Errs)
			if err := p.check(cmd); err != nil {
				return err
			}
			p.Ready()
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
			run := p.pace
			if p.teach {
				run = p.teaching
			}
			if err := run(cmd.Context(), args[0], t); err != patient.ErrNotBegun {
				return err
			}
			return console.ExitError(console.ExitEarly)
		}),
	}
	f := cmd.Flags()
	f.BoolVarP(&p.Yes, "yes", "y", false, "ask nothing: begin, or do not begin if something speaks against it (see --extra)")
	f.BoolVar(&p.Extra, "extra", false, "do the session although it is beyond the dose, too soon, or a time to rest")
	f.BoolVar(&p.Cleared, "cleared", false, "your clinician has cleared the neck glide after a warning sign; the diary records that you said so")
	f.BoolVar(&p.asPrescribed, "as-prescribed", false, "the whole session of the file, whatever the rules say about today")
	f.BoolVar(&p.NoRatings, "no-ratings", false, "do not ask how strong tingling and pain are")
	f.BoolVar(&p.teach, "teach", false, "to learn the movements: three repetitions of each exercise, told at length; nothing goes into the diary")
	f.StringVar(&p.match, "match", "", "another `way` to match breath and movement, for this session only; the movement keeps its tempo: exhale-on-glide, breath-per-rep")
	postureFlag(cmd, &p.posture)
	f.StringVar(&p.sound, "sound", "auto", strings.Join(out.Ways, ", "))
	f.IntVar(&p.offset, "sound-offset", 0, "how late the sound is heard, in `ms`, as with wireless headphones or aplay; screen and keys wait for it")
	f.StringVar(&p.buzzer, "buzzer", "", "buzz too, with the motor of this box `file`; see box wiring")
	p.heard.add(cmd)
	f.StringVar(&p.screen, "screen", "auto", "full, lines, off; auto is full on a terminal, else lines")
	f.StringVar(&p.motion, "motion", "full", "on a full screen: full, less; with less the arm is shown at the ends of its movement, not on its way")
	f.StringVar(&p.Diary, "diary", "", "the diary's `file` (default: in the XDG state folder)")
	return cmd
}

const mostOffset = 2000 // ms that sound may be heard early or late

// paceRun is one call of pace.
type paceRun struct {
	terminal.Terminal
	asPrescribed, teach                           bool
	match, posture, sound, screen, motion, buzzer string
	heard                                         soundFlags
	offset                                        int // ms

	box       *box.File // nil without --buzzer
	settings  sounds.Settings
	output    *live.SoundOut // open from before the person begins
	stopVoice func()         // ends the making of a voice that was not ready in time; or nil
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
		return console.Usagef("--sound off and --screen off leave nothing to follow: leave out one of them")
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
		oneOf("motion", p.motion, "full", "less"),
	)
}

// openBuzzer opens the buzzer of the box file that --buzzer names; nil without
// --buzzer. The caller must call close.
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

// openSound opens the way out for the sound of a session and loads its voice. It
// does so before the person begins, so that they know what is missing. Without
// sound the session goes on if there is a screen or a buzzer to follow.
func (p *paceRun) openSound(ctx context.Context, file string, s *sessions.Session) error {
	if p.sound != "off" {
		settings, notes, stop := live.LoadSoundsToFollow(ctx, file, p.heard.of(s), p.Errs)
		p.settings, p.stopVoice = settings, stop
		if ctx.Err() != nil {
			return console.ExitError(console.ExitEarly)
		}
		p.Without = append(p.Without, notes...)
	}
	found := console.TellIfSlow(p.Errs, "Waiting for the sound server or the sound card.")
	var err error
	p.output, err = live.OpenSound(p.sound, p.Notes)
	found()
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
	if p.sound == "auto" { // the list of all that failed would be too long here
		err = errors.New("no sound: no sound server answers, and there is no sound card")
	}
	p.Without = append(p.Without, fmt.Sprintf("%v; follow %s", err, follow))
	return nil
}

// closeSound closes what openSound has opened.
func (p *paceRun) closeSound() {
	if p.stopVoice != nil {
		p.stopVoice()
	}
	if p.output != nil {
		p.output.Close()
	}
}

// pace does today's session of the named file.
func (p *paceRun) pace(ctx context.Context, file string, prescribed *pacer.Timeline) error {
	p.Diary = diaryPath(p.Diary)
	s := prescribed.Session()
	now := time.Now()
	past, trouble := history.Read(diary.Options{}, p.Diary, s, sessions.DateOf(now))
	if trouble != nil {
		past.Day = sessions.DateOf(now)
		p.Without = append(p.Without, fmt.Sprintf("%v; what cannot be written there is printed at the end", p.WithCure(trouble)))
	}
	p.Without = append(p.Without, past.Warnings...)
	pass, past, err := p.Gate(ctx, s, past, now)
	if err != nil {
		return err
	}
	b, err := patient.NewBriefing(prescribed, past, patient.Wish{AsPrescribed: p.asPrescribed, Match: p.match, NoNeck: pass.NoNeck})
	if err != nil {
		return err
	}
	if trouble != nil {
		b.Changes = append(b.Changes, "Without the diary this is the whole prescription: if your last session was gentler or shorter, ask your clinician first.")
	}
	defer p.closeSound()
	if err := p.openSound(ctx, file, b.Session()); err != nil {
		return err
	}
	b.Keys = terminal.Keys
	if err := p.Tell(ctx, b, past.Done > 0); err != nil {
		return err
	}
	before, err := p.RateBefore(ctx)
	if err != nil {
		return err
	}
	if err := p.Agree(ctx, b); err != nil {
		return err
	}
	entry := past.Dated(history.NewSession(b.Timeline, time.Now(), s.Hash(), history.PlanOf(s, b.Level, p.match), pass.Extra))
	entry.Before, entry.Cleared = before, pass.Cleared
	return p.live(ctx, b, &entry)
}

// live runs the session and writes it into the diary, beginning with the entry.
// Without an entry nothing is written.
func (p *paceRun) live(ctx context.Context, b patient.Briefing, entry *diary.Session) error {
	buzz, closeBuzzer, err := p.openBuzzer(p.Notes)
	if err != nil {
		return err
	}
	defer closeBuzzer()
	s := &live.Session{
		In: p.In, Out: p.Out, Screen: p.screen, Calm: p.motion == "less", Notes: p.Notes, Buzzer: buzz,
		Sound: p.output, Sounds: p.settings, Offset: time.Duration(p.offset) * time.Millisecond,
	}
	var record func() *history.Writer
	if entry != nil {
		entry.Sound = p.output.Name()
		record = func() *history.Writer {
			return history.NewWriter(diary.Options{}, p.Diary, b.Timeline, *entry, func(err error) { p.Notes.Add("%v", p.WithCure(err)) })
		}
	}
	over, err := s.Run(ctx, b.Timeline, record)
	if err != nil {
		return err
	}
	outcome := p.Close(ctx, b, over.Result, over.Advised, over.Record, entry)
	over.HearOut(ctx)
	switch outcome {
	case sessions.EndedEarly:
		return console.ExitError(console.ExitEarly)
	case sessions.Symptoms:
		return console.ExitError(console.ExitSymptoms)
	}
	return nil
}

// teaching shows the movements in the clinic: three repetitions of each
// exercise, told at length. Nothing goes into the diary.
func (p *paceRun) teaching(ctx context.Context, file string, prescribed *pacer.Timeline) error {
	s := *prescribed.Session()
	past, err := history.Read(diary.Options{}, diaryPath(p.Diary), &s, sessions.DateOf(time.Now()))
	if err != nil {
		p.Without = append(p.Without, err.Error())
	}
	now := past.Clock(time.Now())
	for _, h := range progress.Gate(&s, past.Entries, now) {
		if h.Kind == progress.NeckShut && !p.Cleared {
			return p.NotBegun(h.Message(now) + " " + p.ThenCleared)
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
	defer p.closeSound()
	if err := p.openSound(ctx, file, &s); err != nil {
		return err
	}
	b := patient.Briefing{Timeline: t, Keys: terminal.Keys, Changes: []string{"This is for learning the movements. Nothing goes into the diary."}}
	if err := p.BriefToLearn(ctx, b); err != nil {
		return err
	}
	if err := p.Agree(ctx, b); err != nil {
		return err
	}
	return p.live(ctx, b, nil)
}
