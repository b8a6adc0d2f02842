package clips

import (
	"context"
	"errors"
	"fmt"
	"path/filepath"
	"slices"
	"strings"
	"sync"

	"golang.org/x/sync/errgroup"

	"glidepace/sounds/voice"
)

// Sources of a voice.
const (
	Auto       = "auto"       // recordings, and espeak-ng for what has none
	Recordings = "recordings" // recordings alone
	Espeak     = "espeak-ng"  // espeak-ng alone
)

// Options say where a voice comes from.
type Options struct {
	Language *voice.Language
	Source   string // Auto, Recordings or Espeak
	// Recordings is a folder with files named after cues (NAME.wav, .flac,
	// .mp3 or .ogg, of up to 30 s each), "" for none.
	Recordings string
	// Known are the names of other cues. Their recordings are not needed now,
	// but they are no mistake.
	Known []string
	Cache string // folder for finished clips; "" for the usual one
	// TimesOnly asks for how long the clips are, without their sound. Then nothing is
	// spoken: what is not in the cache is estimated, and a note says so.
	TimesOnly bool
}

// atOnce is how many clips are made at the same time.
const atOnce = 2

// Load makes the clips of cues. It returns notes for the person, a line each,
// about what may not be as it was meant.
//
// With Auto, no recordings and no espeak-ng the voice has no clips; that is no
// error. It is an error where Recordings or Espeak is asked for and not there.
// Recordings that cannot be used are an error too, which names each file and
// the cure; then there is a voice of all the others beside the error.
func Load(ctx context.Context, cues []voice.Cue, o Options) (*voice.Voice, []string, error) {
	files, notes, err := o.findRecordings(cues)
	if err != nil {
		return nil, nil, err
	}
	var missing []string // names of cues without a recording
	for _, c := range cues {
		if files[c.Name] == "" {
			missing = append(missing, c.Name)
		}
	}
	var speaker *espeak
	if len(missing) > 0 {
		if o.Source != Recordings {
			if speaker, err = findEspeak(ctx, o.Language.Espeak); err != nil {
				return nil, nil, espeakError(ctx, o.Language.Espeak, "tell its version", err)
			}
		}
		note, err := o.withoutRecording(missing, len(cues), speaker != nil)
		if err != nil {
			return nil, nil, err
		}
		if note != "" {
			notes = append(notes, note)
		}
	}
	if o.Cache == "" {
		o.Cache = defaultCache()
	}
	m := maker{cache: cache{o.Cache}, speaker: speaker, timesOnly: o.TimesOnly, made: map[string]voice.Clip{}, frames: map[string]int{}}
	if err := m.makeAll(ctx, cues, files); err != nil {
		return nil, nil, err
	}
	if len(m.unsaid) > 0 {
		slices.Sort(m.unsaid)
		notes = append(notes, "espeak-ng has no words, or too many, for "+some(m.unsaid)+"; left unsaid")
	}
	if m.estimated > 0 {
		notes = append(notes, fmt.Sprintf("%d of %d cues have not been spoken yet: how long they take is estimated", m.estimated, len(cues)))
	}
	slices.SortFunc(m.bad, func(a, b error) int { return strings.Compare(a.Error(), b.Error()) })
	if o.TimesOnly {
		return voice.Timed(o.Language, m.frames), notes, errors.Join(m.bad...)
	}
	return voice.New(o.Language, m.made), notes, errors.Join(m.bad...)
}

// withoutRecording says what becomes of the cues without a recording, "" where
// that is as it was asked for.
func (o *Options) withoutRecording(missing []string, all int, spoken bool) (note string, err error) {
	switch {
	case o.Source == Espeak && !spoken:
		return "", errors.New("espeak-ng is not installed: install it, or take the voice from recordings or auto")
	case len(missing) == all && !spoken:
		why := "no recordings are given"
		if o.Recordings != "" {
			why = o.Recordings + " has no recording of a cue"
		}
		if o.Source == Recordings {
			return "", fmt.Errorf("%s: give a folder with files named after the cues", why)
		}
		return "no voice: espeak-ng is not installed and " + why + "; tones only", nil
	case o.Source == Espeak || o.Recordings == "":
		return "", nil
	}
	then := "are not said, as espeak-ng is not installed"
	switch {
	case spoken:
		then = "are spoken by espeak-ng"
	case o.Source == Recordings:
		then = "are not said"
	}
	return fmt.Sprintf("%d of %d cues have no recording and %s: %s", len(missing), all, then, some(missing)), nil
}

func (o *Options) findRecordings(cues []voice.Cue) (map[string]string, []string, error) {
	switch {
	case o.Recordings == "":
		return nil, nil, nil
	case o.Source == Espeak:
		return nil, []string{"the recordings in " + o.Recordings + " are not used: the voice is to come from espeak-ng"}, nil
	}
	return FindRecordings(o.Recordings, cues, o.Known)
}

// maker makes clips, or finds them in the cache.
type maker struct {
	cache     cache
	speaker   *espeak // nil where there is none
	timesOnly bool

	mu        sync.Mutex            // of what follows
	made      map[string]voice.Clip // by name of the cue, as is the next
	frames    map[string]int        // for timesOnly
	estimated int                   // how many of them are
	unsaid    []string              // names of cues that espeak-ng cannot say
	bad       []error               // of recordings
}

// makeAll makes the clips of cues, several at a time. files are the recordings,
// by name of the cue. It ends at the first error of espeak-ng.
func (m *maker) makeAll(ctx context.Context, cues []voice.Cue, files map[string]string) error {
	group, ctx := errgroup.WithContext(ctx)
	group.SetLimit(atOnce)
	for _, c := range cues {
		group.Go(func() error {
			recording := files[c.Name]
			if m.timesOnly && recording == "" && m.speaker != nil {
				m.time(c)
				return nil
			}
			clip, err := m.clip(ctx, c, recording)
			m.mu.Lock()
			defer m.mu.Unlock()
			switch {
			case recording == "" && (errors.Is(err, errSilent) || errors.Is(err, errLong)):
				m.unsaid = append(m.unsaid, c.Name)
			case err != nil && recording != "" && ctx.Err() == nil:
				m.bad = append(m.bad, err)
			case err != nil:
				return err
			case clip != nil && m.timesOnly:
				m.frames[c.Name] = len(clip)
			case clip != nil:
				m.made[c.Name] = clip
			}
			return nil
		})
	}
	return group.Wait()
}

// clip returns the clip of a cue: of its recording where one is given, else
// spoken by espeak-ng, else nil.
func (m *maker) clip(ctx context.Context, c voice.Cue, recording string) (voice.Clip, error) {
	if err := context.Cause(ctx); err != nil {
		return nil, err
	}
	switch {
	case recording != "":
		clip, err := m.recorded(ctx, recording)
		if err != nil && ctx.Err() == nil {
			err = fmt.Errorf("recording %s: %w", filepath.ToSlash(recording), err)
		}
		return clip, err
	case m.speaker != nil:
		clip, err := m.spoken(ctx, c.Text)
		if err != nil {
			err = espeakError(ctx, m.speaker.voice, fmt.Sprintf("say %q", c.Text), err)
		}
		return clip, err
	}
	return nil, nil
}

func (m *maker) recorded(ctx context.Context, recording string) (voice.Clip, error) {
	file, err := readFile(recording)
	if err != nil {
		return nil, err
	}
	path := m.cache.path("recording", file)
	if clip := m.cache.get(path); clip != nil {
		return clip, nil
	}
	return m.make(ctx, file, path)
}

// time notes how long espeak-ng takes to say a cue.
func (m *maker) time(c voice.Cue) {
	frames := m.cache.frames(m.spokenPath(c.Text))
	kept := frames > 0
	if !kept {
		frames = int(estimate(c.Text) * rate)
	}
	m.mu.Lock()
	defer m.mu.Unlock()
	if frames == 0 || frames > longest*rate {
		m.unsaid = append(m.unsaid, c.Name)
		return
	}
	m.frames[c.Name] = frames
	if !kept {
		m.estimated++
	}
}

func (m *maker) spokenPath(text string) string {
	return m.cache.path("spoken", []byte(m.speaker.source(text)))
}

func (m *maker) spoken(ctx context.Context, text string) (voice.Clip, error) {
	path := m.spokenPath(text)
	if clip := m.cache.get(path); clip != nil {
		return clip, nil
	}
	file, err := m.speaker.say(ctx, text)
	if err != nil {
		return nil, err
	}
	return m.make(ctx, file, path)
}

// make makes a clip of a sound file and keeps it in the cache.
func (m *maker) make(ctx context.Context, file []byte, path string) (voice.Clip, error) {
	samples, err := decode(ctx, file)
	if err != nil {
		return nil, err
	}
	clip, err := newClip(samples)
	if err == nil {
		m.cache.put(path, clip)
	}
	return clip, err
}

// espeakError says what espeak-ng could not do, unless it was stopped.
func espeakError(ctx context.Context, voice, what string, err error) error {
	if ctx.Err() != nil {
		return err
	}
	return fmt.Errorf("espeak-ng could not %s: %w; try it by hand: espeak-ng -v %s hello; or leave voice out of the parts", what, err, voice)
}

// some returns the first few of names.
func some(names []string) string {
	const most = 5
	if more := len(names) - most; more > 0 {
		return fmt.Sprintf("%s and %d more", strings.Join(names[:most], ", "), more)
	}
	return strings.Join(names, ", ")
}
