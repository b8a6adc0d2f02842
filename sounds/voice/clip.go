package voice

const (
	// Loudness is what clips are brought to, in LUFS: that of the tones, which
	// at volume 60 are at −20. The volume is applied to words and tones alike
	// and later, so this is −20 − 20·log10(0.6^(5/3)).
	Loudness = -12.60504
	// Ceiling is the highest sample of a clip. What is left to full scale is
	// for the tones under the words, at full volume.
	Ceiling = 0.85
)

// Clip is one cue as it sounds: one channel at 48 kHz, at the loudness of the
// tones, without silence before and behind it. It comes from nothing and goes
// to nothing smoothly.
type Clip []int16 // half the memory of float32, and as good as the files made of it

// Voice has the clips of cues and the words they come from.
type Voice struct {
	language *Language
	clips    map[string]Clip // by name of the cue
}

// New returns a voice that has these clips, by name of the cue.
func New(w *Language, clips map[string]Clip) *Voice { return &Voice{w, clips} }

// Silent reports whether the voice has nothing to say.
func (v *Voice) Silent() bool { return len(v.clips) == 0 }

// Clip returns the clip of a cue, nil where there is none. It must not be
// changed.
func (v *Voice) Clip(name string) Clip { return v.clips[name] }
