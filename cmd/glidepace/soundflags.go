package main

import (
	"context"
	"fmt"
	"io"
	"path/filepath"
	"strings"
	"time"

	"github.com/spf13/cobra"

	"glidepace/cmd/glidepace/internal/console"
	"glidepace/sessions"
	"glidepace/sounds"
	"glidepace/sounds/clips"
	"glidepace/sounds/voice"
)

// soundFlags are the flags for how a session sounds. What is not given is as
// the session file says.
type soundFlags struct {
	volume int // -1 where it is not given
	parts  []string
}

func (f *soundFlags) add(cmd *cobra.Command) {
	cmd.Flags().IntVar(&f.volume, "volume", -1, "loudness, 0 to 100 (default the file's, else 60)")
	cmd.Flags().Lookup("volume").DefValue = ""
	cmd.Flags().StringSliceVar(&f.parts, "parts", nil,
		"what is heard, of "+strings.Join(sessions.PartNames, ",")+" (default the file's, else all)")
}

// check refuses values that are not allowed.
func (f *soundFlags) check(cmd *cobra.Command) error {
	if cmd.Flags().Changed("volume") && (f.volume < 0 || f.volume > 100) {
		return console.Usagef("--volume %d: allowed is 0 to 100", f.volume)
	}
	for i, part := range f.parts {
		f.parts[i] = strings.TrimSpace(part)
	}
	if cmd.Flags().Changed("parts") {
		if _, err := sessions.ParseParts(f.parts); err != nil {
			return console.Usagef("--parts: %w", err)
		}
	}
	return nil
}

// settings returns how the session of the named file is to sound, its voice
// loaded, and in a sentence each what is to be known about the voice.
func (f *soundFlags) settings(ctx context.Context, file string, s *sessions.Session, errs io.Writer) (sounds.Settings, []string, error) {
	how := sounds.Settings{Parts: s.Sounds.Parts, Volume: s.Sounds.Volume}
	if f.volume >= 0 {
		how.Volume = f.volume
	}
	if len(f.parts) > 0 {
		var err error
		if how.Parts, err = sessions.ParseParts(f.parts); err != nil {
			return how, nil, console.Usagef("%w", err)
		}
	}
	if !how.Parts.Voice {
		return how, nil, nil
	}
	if console.IsTerminal(errs) {
		patience := time.AfterFunc(time.Second, func() {
			fmt.Fprintln(errs, "Making the voice; the next time it is there at once.")
		})
		defer patience.Stop()
	}
	v, notes, err := loadVoice(ctx, file, s)
	how.Voice = v
	return how, notes, err
}

// audible takes in tones and ticks where there is nothing but a voice to be
// heard and no voice: a session is to be followed.
func audible(how sounds.Settings, notes []string) (sounds.Settings, []string) {
	if how.Parts == (sessions.Parts{Voice: true}) && (how.Voice == nil || how.Voice.Silent()) {
		how.Parts.Tones, how.Parts.Ticks = true, true
		notes = append(notes, "tones and ticks take the place of the voice")
	}
	return how, notes
}

// voiceTrouble says what a session goes on without.
func voiceTrouble(how sounds.Settings, err error) string {
	if how.Voice == nil {
		return fmt.Sprintf("no voice: %v", err)
	}
	return fmt.Sprintf("not all of the voice: %v", err)
}

// loadVoice loads the voice that the named session file asks for. A problem
// with it is the file's, at its place.
func loadVoice(ctx context.Context, file string, s *sessions.Session) (*voice.Voice, []string, error) {
	words, err := wordsOf(file, s)
	if err != nil {
		return nil, nil, err
	}
	folder := s.Sounds.Cues
	if folder != "" && !filepath.IsAbs(folder) {
		folder = filepath.Join(filepath.Dir(file), folder)
	}
	v, notes, err := clips.Load(ctx, words.Cues(s), clips.Options{
		Language: words, Source: s.Sounds.Voice, Recordings: folder, Known: words.LibraryCues(),
	})
	if err != nil && ctx.Err() == nil {
		field := "voice"
		if folder != "" {
			field = "cues"
		}
		var list []sessions.Problem
		for line := range strings.SplitSeq(err.Error(), "\n") {
			list = append(list, sessions.Problem{Place: s.Place("sounds." + field), Text: field + ": " + line})
		}
		err = &sessions.Error{File: file, Problems: list}
	}
	return v, notes, err
}

// wordsOf returns the words that a session is spoken in.
func wordsOf(file string, s *sessions.Session) (*voice.Language, error) {
	words, err := voice.FindLanguage(s.Sounds.Language)
	if err != nil {
		return nil, problem(file, s, "sounds.language", fmt.Errorf("language: %w", err))
	}
	return words, nil
}

// problem makes err one of the session file, at a field.
func problem(file string, s *sessions.Session, field string, err error) error {
	return &sessions.Error{File: file, Problems: []sessions.Problem{{Place: s.Place(field), Text: err.Error()}}}
}
