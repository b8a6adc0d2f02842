package live

import (
	"context"
	"fmt"
	"io"
	"path/filepath"
	"strings"
	"time"

	"glidepace/cmd/glidepace/internal/console"
	"glidepace/sessions"
	"glidepace/sounds"
	"glidepace/sounds/clips"
	"glidepace/sounds/voice"
)

// LoadSounds returns how a session sounds, with its voice, and notes about the
// voice, in a sentence each. With an error some or all of the voice is missing.
// The first time a voice is made takes a while; a terminal on errs says so.
func LoadSounds(ctx context.Context, file string, s *sessions.Session, errs io.Writer) (settings sounds.Settings, notes []string, err error) {
	settings = sounds.Settings{Parts: s.Sounds.Parts, Volume: s.Sounds.Volume}
	if !settings.Parts.Voice {
		return settings, nil, nil
	}
	defer console.TellIfSlow(errs, "Making the voice. Next time it will be ready at once.")()
	settings.Voice, notes, err = LoadVoice(ctx, file, s)
	return settings, notes, err
}

// LoadSoundsToFollow is LoadSounds for a session that begins even if its voice
// cannot be loaded, or not soon. The notes say so. If the voice was to be the only
// sound, tones and ticks take its place. A voice that takes long goes on being made
// for the next session, until stop.
func LoadSoundsToFollow(ctx context.Context, file string, s *sessions.Session, errs io.Writer) (settings sounds.Settings, notes []string, stop func()) {
	type loaded struct {
		settings sounds.Settings
		notes    []string
		err      error
	}
	l, inTime, stop := patiently(ctx, func(ctx context.Context) (l loaded) {
		l.settings, l.notes, l.err = LoadSounds(ctx, file, s, errs)
		return l
	})
	settings, notes = l.settings, l.notes
	if !inTime {
		settings = sounds.Settings{Parts: s.Sounds.Parts, Volume: s.Sounds.Volume}
		notes = []string{fmt.Sprintf("this session is without the voice, which takes more than %v to make; it is being made for the next one", patience)}
	}
	if l.err != nil {
		lead := "part of the voice is missing: "
		if settings.Voice == nil {
			lead = "no voice: "
		}
		for _, line := range console.ErrorLines(l.err) {
			notes = append(notes, lead+line)
		}
	}
	if settings.Parts == (sessions.Parts{Voice: true}) && (settings.Voice == nil || settings.Voice.Silent()) {
		settings.Parts.Tones, settings.Parts.Ticks = true, true
		notes = append(notes, "tones and ticks take the place of the voice")
	}
	return settings, notes, stop
}

// patience is how long a session waits for its voice.
const patience = 5 * time.Second

// patiently waits for what load returns, but not longer than patience. load goes on
// after that. stop ends its context and waits until it has returned.
func patiently[T any](ctx context.Context, load func(context.Context) T) (result T, inTime bool, stop func()) {
	ctx, cancel := context.WithCancel(ctx)
	loaded := make(chan T, 1)
	ended := make(chan struct{})
	go func() {
		defer close(ended)
		loaded <- load(ctx)
	}()
	late := time.NewTimer(patience)
	defer late.Stop()
	select {
	case result = <-loaded:
		inTime = true
	case <-late.C:
	}
	return result, inTime, func() { cancel(); <-ended }
}

// TimeVoice is LoadVoice for a voice that only knows how long its words are, some of
// them as an estimate. That is quick, and speaks nothing.
func TimeVoice(ctx context.Context, file string, s *sessions.Session) (*voice.Voice, []string, error) {
	return loadVoice(ctx, file, s, true)
}

// LoadVoice loads the voice that a session file asks for. The error has the place
// in the file.
func LoadVoice(ctx context.Context, file string, s *sessions.Session) (*voice.Voice, []string, error) {
	return loadVoice(ctx, file, s, false)
}

func loadVoice(ctx context.Context, file string, s *sessions.Session, timesOnly bool) (*voice.Voice, []string, error) {
	language, err := Language(file, s)
	if err != nil {
		return nil, nil, err
	}
	folder := s.Sounds.Cues
	if folder != "" && !filepath.IsAbs(folder) {
		folder = filepath.Join(filepath.Dir(file), folder)
	}
	v, notes, err := clips.Load(ctx, language.Cues(s), clips.Options{
		Language: language, Source: s.Sounds.Voice, Recordings: folder, Known: language.LibraryCues(), TimesOnly: timesOnly,
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

// Language returns the language in which a session is spoken.
func Language(file string, s *sessions.Session) (*voice.Language, error) {
	language, err := voice.FindLanguage(s.Sounds.Language)
	if err != nil {
		return nil, Problem(file, s, "sounds.language", fmt.Errorf("language: %w", err))
	}
	return language, nil
}
