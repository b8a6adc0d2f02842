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
}

// New returns a voice that has these clips, by name of the cue.
func New(w *Language, clips map[string]Clip) *Voice { return &Voice{w, clips} }

// Silent reports whether the voice has nothing to say.
func (v *Voice) Silent() bool { return len(v.clips) == 0 }

// Clip returns the clip of a cue, or nil. It must not be changed.
func (v *Voice) Clip(name string) Clip { return v.clips[name] }
