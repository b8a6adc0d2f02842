package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"path/filepath"
	"strings"
	"time"

	"github.com/spf13/cobra"

	"glidepace/cmd/glidepace/internal/console"
	"glidepace/cmd/glidepace/internal/live"
	"glidepace/pacer"
	"glidepace/sessions"
	"glidepace/sessions/safefile"
	"glidepace/sounds"
	"glidepace/sounds/file"
)

func renderCommand() *cobra.Command {
	r := &renderRun{}
	var listCues bool
	var form string
	cmd := &cobra.Command{
		Use:   "render FILE -o NAME",
		Short: "Write a session as a sound file for any phone",
		Long: `Writes the sound of a session into a file: the same samples that pace plays. The
end of NAME says what kind of file it is: .wav or .flac, or, if ffmpeg is
installed, .mp3, .m4a or .opus.

A file knows nothing of the person who follows it: it cannot stop for symptoms
and go on gentler. Hand it out with the cautions, and say what to do when it
tingles.

The session file may name a folder with the clinic's own recordings, a file for
each cue (sounds: {cues: my-voice/}). What has no recording is spoken by
espeak-ng, if that is installed and the session file does not exclude it.
--list-cues prints the names of the cues and what to say.`,
		Example: `  glidepace render first-week.yaml -o first-week.mp3 --captions
  glidepace render first-week.yaml -o ticks.wav --parts ticks --volume 80
  glidepace render first-week.yaml --list-cues`,
		Args: cobra.ExactArgs(1),
		RunE: untilSignal(func(cmd *cobra.Command, args []string) error {
			if !listCues {
				unblock(cmd)
			}
			r.out, r.errs = cmd.OutOrStdout(), cmd.ErrOrStderr()
			if err := errors.Join(r.sound.check(cmd), oneOf("format", form, "text", "json"), checkPosture(r.posture)); err != nil {
				return err
			}
			t, err := live.Load(args[0])
			if err != nil {
				return err
			}
			if t, err = takePlace(t, r.posture); err != nil {
				return err
			}
			if listCues {
				return writeCues(r.out, args[0], t.Session(), form)
			}
			return r.render(cmd.Context(), args[0], t)
		}),
	}
	f := cmd.Flags()
	f.StringVarP(&r.name, "output", "o", "", "the `name` of the sound file; its end says what kind it is: "+strings.Join(file.Extensions(), ", "))
	f.BoolVar(&r.captions, "captions", false, "write captions (WebVTT) beside it")
	f.BoolVar(&r.force, "force", false, "replace a file that exists")
	f.BoolVar(&listCues, "list-cues", false, "print the cues to record and what to say, and write nothing")
	f.StringVar(&form, "format", "text", "the format of --list-cues: text, json")
	r.sound.add(cmd)
	todayFlags(cmd, &r.today, &r.diary)
	postureFlag(cmd, &r.posture)
	return cmd
}

// renderRun is one call of render.
type renderRun struct {
	name, diary, posture   string
	captions, force, today bool
	sound                  soundFlags
	out, errs              io.Writer
}

func (r *renderRun) render(ctx context.Context, session string, t *pacer.Timeline) error {
	if r.name == "" {
		base := strings.TrimSuffix(filepath.Base(session), filepath.Ext(session))
		return console.Usagef("where to? Name the sound file, such as -o %s.mp3", base)
	}
	if err := r.check(session); err != nil { // before the voice is made
		return fileError(err)
	}
	s := t.Session()
	why := ""
	if r.today {
		now, err := todaysTimeline(t, r.diary)
		if err != nil {
			return err
		}
		t, why = now.Timeline, now.Words()
		if now.NeckShut && t.Neck() {
			return fmt.Errorf("nothing is written: %s", why)
		}
	}
	settings, notes, err := live.LoadSounds(ctx, session, r.sound.of(s), r.errs)
	if ctx.Err() != nil {
		return errInterrupted
	}
	if err != nil {
		return err
	}
	if s.Progress != nil && !r.today {
		notes = append(notes, fmt.Sprintf("this is the whole session, but the file begins with %s and works up to %d; --today writes today's session",
			sessions.Count(s.Progress.RepsFrom, "repetition"), s.Goal()))
	}
	for _, n := range notes {
		console.NewNotes(r.errs).Add("%s", n)
	}
	if settings.Parts == (sessions.Parts{Voice: true}) && settings.Voice.Silent() {
		return console.Usagef("nothing would be heard: there is no voice; add tones or ticks to the parts")
	}
	options := file.Options{Title: s.Title, Force: r.force}
	written := r.name
	if r.captions {
		p, err := r.writeCaptions(session, t)
		if err != nil {
			return fileError(err)
		}
		defer p.Discard()
		options.Beside = append(options.Beside, p)
		written += " and " + captionsName(r.name)
	}
	stream := sounds.New(t, settings)
	begun := time.Now()
	show := &progressLine{w: r.errs, begun: begun}
	if console.IsTerminal(r.errs) {
		options.Progress = show.show
	}
	err = file.Write(ctx, r.name, stream, options)
	show.clear()
	if err != nil {
		if ctx.Err() != nil {
			return errInterrupted
		}
		return fileError(err)
	}
	p := console.NewPrinter(r.out)
	if why != "" {
		p.Wrap("", "Today: "+why)
	}
	length := sounds.SampleRate.D(stream.Len())
	p.Wrap("", fmt.Sprintf("%s: %s of sound, written %s as fast as it plays.", written,
		pacer.Clock(length.Seconds()), times(length, time.Since(begun))))
	return p.Err
}

var errInterrupted = errors.New("interrupted: nothing was written")

// times says how many times as fast a length of sound was written.
func times(length, took time.Duration) string {
	return fmt.Sprintf("%.0f times", length.Seconds()/max(took.Seconds(), 1e-3))
}

// progressLine is the line on a terminal that says how far a file is.
type progressLine struct {
	w            io.Writer
	begun, shown time.Time
}

func (p *progressLine) show(done, total int) {
	now := time.Now()
	if now.Sub(p.begun) < 300*time.Millisecond || now.Sub(p.shown) < 100*time.Millisecond {
		return
	}
	p.shown = now
	fmt.Fprintf(p.w, "\r%3d %%, %s as fast as it plays\x1b[K", int64(done)*100/int64(total),
		times(sounds.SampleRate.D(done), now.Sub(p.begun)))
}

func (p *progressLine) clear() {
	if !p.shown.IsZero() {
		fmt.Fprint(p.w, "\r\x1b[K")
	}
}

// check says why the files could not be written.
func (r *renderRun) check(session string) error {
	if err := file.Check(r.name, r.force); err != nil {
		return err
	}
	if err := checkOut(r.name, []string{strings.ToLower(filepath.Ext(r.name))}, session, r.diary); err != nil || !r.captions {
		return err
	}
	p, err := safefile.Create(captionsName(r.name), r.force)
	if err == nil {
		p.Discard()
	}
	return err
}

// writeCaptions writes the captions of t. The file gets its name together with the
// sound file.
func (r *renderRun) writeCaptions(session string, t *pacer.Timeline) (*safefile.File, error) {
	language, err := live.Language(session, t.Session())
	if err != nil {
		return nil, err
	}
	p, err := safefile.Create(captionsName(r.name), r.force)
	if err != nil {
		return nil, err
	}
	if err := language.WriteCaptions(p, t, sounds.Tail.Seconds()); err != nil {
		p.Discard()
		return nil, err
	}
	return p, nil
}

// captionsName is where a player looks for the captions of a sound file.
func captionsName(sound string) string {
	return strings.TrimSuffix(sound, filepath.Ext(sound)) + ".vtt"
}

// writeCues lists what a clinic records to have its own voice in a session.
func writeCues(w io.Writer, session string, s *sessions.Session, form string) error {
	language, err := live.Language(session, s)
	if err != nil {
		return err
	}
	cues := language.Cues(s)
	if form == "json" {
		return console.WriteJSON(w, cues)
	}
	p := console.NewPrinter(w)
	p.Wrap("", "Record each cue in a quiet room, always at the same distance, in a file named after the cue: WAV, FLAC, MP3 or OGG, such as breathe-in.wav. "+
		"Then say in the session file which folder they are in, such as sounds: {cues: my-voice/}.")
	p.Line("")
	for _, c := range cues {
		p.Wrap(fmt.Sprintf("%-24s  ", c.Name), c.Text)
	}
	return p.Err
}
