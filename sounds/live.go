package sounds

import (
	"time"

	"github.com/gopxl/beep/v2"

	"glidepace/pacer"
)

// Output is a way for sound to reach the ear.
type Output interface {
	// Play plays s from its first frame, at once, in place of what played.
	Play(s beep.StreamSeeker)
	// Hush silences at once.
	Hush()
	// Heard returns when a frame of the stream played last is (was, will be)
	// heard.
	Heard(frame int) time.Time
}

// Live is the sound of a session as it runs.
type Live struct {
	output   Output
	settings Settings
	offset   time.Duration
}

var (
	_ pacer.Sound = (*Live)(nil)
	_ pacer.Voice = (*Live)(nil)
)

// calm is how long it is silent after a stop before anything is said: first one has to
// hear that it has stopped.
const calm = time.Second

// NewLive returns the sound that is heard through output, and offset later than
// the output can know (wireless headphones).
func NewLive(output Output, settings Settings, offset time.Duration) *Live {
	return &Live{output, settings, offset}
}

// Play implements pacer.Sound.
func (l *Live) Play(t *pacer.Timeline) { l.output.Play(New(t, l.settings)) }

// Hush implements pacer.Sound.
func (l *Live) Hush() { l.output.Hush() }

// Heard implements pacer.Sound. It is the moment of the frame nearest to d.
func (l *Live) Heard(d time.Duration) time.Time {
	return l.output.Heard(frame(d.Seconds())).Add(l.offset)
}

// Say implements pacer.Voice, with the voice of the settings.
func (l *Live) Say(e pacer.Event) time.Duration {
	words := newWords(e, l.settings)
	if words == nil {
		l.output.Hush()
		return 0
	}
	l.output.Play(words)
	return SampleRate.D(words.Len())
}
