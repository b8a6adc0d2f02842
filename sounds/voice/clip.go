package voice

const (
	// Loudness is that of clips in LUFS, the same as that of the tones, which
	// are at −20 at volume 60. The volume comes later and is the same for both,
	// so this is −20 − 20·log10(0.6^(5/3)).
	Loudness = -12.60504
	// Ceiling is the highest sample of a clip. The rest up to full scale is for
	// the tones under the words, at full volume.
	Ceiling = 0.85
)

// Clip is the sound of one cue: one channel at 48 kHz, as loud as the tones,
// without silence before and after it, and with smooth edges.
type Clip []int16 // half the memory of float32, and as good as the files made of it

// Voice has the clips of cues and the words they come from.
type Voice struct {
	language *Language
	clips    map[string]Clip // by name of the cue
	frames   map[string]int  // how long they are
}

// New returns a voice that has these clips, by name of the cue.
func New(w *Language, clips map[string]Clip) *Voice {
	frames := map[string]int{}
	for name, clip := range clips {
		frames[name] = len(clip)
	}
	return &Voice{w, clips, frames}
}

// Timed returns a voice that only knows how many frames its clips have, by name of the
// cue. That is enough for Schedule.
func Timed(w *Language, frames map[string]int) *Voice { return &Voice{w, nil, frames} }

// Silent reports whether the voice has nothing to say.
func (v *Voice) Silent() bool { return len(v.frames) == 0 }

// Clip returns the clip of a cue, or nil. It must not be changed.
func (v *Voice) Clip(name string) Clip { return v.clips[name] }
