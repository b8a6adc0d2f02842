package main

import (
	"bytes"
	"context"
	"fmt"
	"io"
	"path/filepath"
	"slices"
	"strings"

	"github.com/spf13/cobra"

	"glidepace/cmd/glidepace/internal/console"
	"glidepace/cmd/glidepace/internal/live"
	"glidepace/devices/page"
	"glidepace/sessions"
	"glidepace/sessions/fields"
	"glidepace/sessions/safefile"
	"glidepace/sounds/file"
	"glidepace/sounds/voice"
)

func pageCommand() *cobra.Command {
	p := &pageRun{}
	cmd := &cobra.Command{
		Use:   "page FILE -o NAME.html",
		Short: "Write the session as one web page that paces it on any phone",
		Long: `Writes a session as one web page. The patient opens it on a phone and taps
Begin: the same session, sound, stops and rules as with glidepace pace. There is
nothing to install, and nothing is sent anywhere. The page keeps its diary on
the phone; the patient gives it to the clinic as a small file, which glidepace
diary merge takes.

To hand it out, put the page on the clinic's own web address, and give the
patient the address. After a change of the prescription write the page anew, to
the same address: it goes on with the diary of the same patient code. Or give it
as a file, to be opened in the phone's browser. A mail program often shows a
page with its scripts off: then the page says so. Try it on the patient's phone.

With the words of the voice the page has up to 4 MB, without them 2.5 MB. If
ffmpeg is not installed, the words take several times the room.`,
		Example: `  glidepace page first-week.yaml -o hand.html --contact "the clinic, 555 0100"
  glidepace page first-week.yaml -o right-hand.html --parts tones,ticks`,
		Args: cobra.ExactArgs(1),
		RunE: untilSignal(func(cmd *cobra.Command, args []string) error {
			if err := p.sound.check(cmd); err != nil {
				return err
			}
			if p.name == "" {
				base := strings.TrimSuffix(filepath.Base(args[0]), filepath.Ext(args[0]))
				return console.Usagef("where to? Name the page, such as -o %s.html", base)
			}
			if err := checkOut(p.name, []string{".html", ".htm"}, args[0]); err != nil {
				return err
			}
			return p.write(cmd.Context(), args[0], cmd.OutOrStdout(), cmd.ErrOrStderr())
		}),
	}
	f := cmd.Flags()
	f.StringVarP(&p.name, "output", "o", "", "the `name` of the page")
	f.BoolVar(&p.force, "force", false, "replace a file that exists")
	f.StringVar(&p.options.Contact, "contact", "", "whom the patient calls, such as \"the clinic, 555 0100\"; it is kept nowhere\nelse")
	f.BoolVar(&p.options.AsPrescribed, "as-prescribed", false, "always the whole session of the file, whatever the rules say about a day")
	p.sound.add(cmd)
	return cmd
}

// pageRun is one call of page.
type pageRun struct {
	name    string
	force   bool
	sound   soundFlags
	options page.Options
}

func (p *pageRun) write(ctx context.Context, session string, out, errs io.Writer) error {
	t, err := live.Load(session)
	if err != nil {
		return err
	}
	f, err := safefile.Create(p.name, p.force)
	if err != nil {
		return fileError(err)
	}
	defer f.Discard()
	text, err := safefile.Read(session, fields.MaxSize)
	if err != nil {
		return live.OpenError(session, err)
	}
	s := p.sound.of(t.Session())
	settings, notes, err := live.LoadSounds(ctx, session, s, errs)
	if ctx.Err() != nil {
		return errInterrupted
	}
	if err != nil {
		return err
	}
	if s.Patient == "" {
		notes = append(notes, "the file has no patient code: nobody can tell whose diary this page gives")
	}
	for _, n := range notes {
		console.NewNotes(errs).Add("%s", n)
	}
	p.options.Session, p.options.Parts, p.options.Volume = string(text), s.Sounds.Parts, s.Sounds.Volume
	if settings.Voice != nil {
		err := p.addClips(ctx, session, s, settings.Voice, errs)
		if ctx.Err() != nil {
			return errInterrupted
		}
		if err != nil {
			return err
		}
	}
	var written bytes.Buffer
	if err := page.Write(&written, s.Title, p.options); err != nil {
		return err
	}
	if _, err := f.Write(written.Bytes()); err != nil {
		return fmt.Errorf("%s: %w", p.name, err)
	}
	if err := safefile.Commit(f); err != nil {
		return fileError(err)
	}
	w := console.NewPrinter(out)
	w.Wrap("", fmt.Sprintf("%s: %.1f MB. Hand it out from the clinic's own web address; a phone that opens it from a mail may show it with its scripts off.",
		p.name, float64(written.Len())/1e6))
	return w.Err
}

// addClips adds the words of the voice as sound files: packed by ffmpeg or, without
// it, larger. Cues that say the same share one.
func (p *pageRun) addClips(ctx context.Context, session string, s *sessions.Session, v *voice.Voice, errs io.Writer) error {
	language, err := live.Language(session, s)
	if err != nil {
		return err
	}
	folder, remove, err := safefile.TempFolder()
	if err != nil {
		return err
	}
	defer remove()
	kind := ".mp3"
	if err := file.Check(filepath.Join(folder, "clip.mp3"), false); err != nil {
		kind = ".flac"
		console.NewNotes(errs).Add("the page is larger than it need be: ffmpeg is not installed")
	}
	o := &p.options
	o.Voice = map[string]int{}
	var said []voice.Clip
	for _, c := range language.Cues(s) {
		samples := v.Clip(c.Name)
		i := slices.IndexFunc(said, func(clip voice.Clip) bool { return slices.Equal(clip, samples) })
		if len(samples) > 0 && i < 0 {
			i = len(said)
			said = append(said, samples)
			name := filepath.Join(folder, fmt.Sprint(i)+kind)
			if err := file.Write(ctx, name, clipSource(samples), file.Options{Speech: true}); err != nil {
				return err
			}
			packed, err := safefile.Read(name, largestClip)
			if err != nil {
				return err
			}
			o.Clips = append(o.Clips, packed)
		}
		if i >= 0 {
			o.Voice[c.Name] = i
		}
	}
	return nil
}

// largestClip is the most bytes that a spoken cue has as a sound file.
const largestClip = 8 << 20

// clipSource is a clip as the writer of sound files takes it.
type clipSource voice.Clip

func (c clipSource) Len() int                 { return len(c) }
func (c clipSource) Fill(dst []int16, at int) { copy(dst, c[at:]) }
