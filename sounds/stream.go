package sounds

import (
	"fmt"
	"math"
	"time"

	"github.com/gopxl/beep/v2"

	"glidepace/pacer"
	"glidepace/sessions"
	"glidepace/sounds/voice"
)

// SampleRate is pacer.SampleRate as beep counts it.
const SampleRate = beep.SampleRate(pacer.SampleRate)

// Tail is how long a stream goes on after the end of its timeline, for the end
// mark of the last set and the last words.
const Tail = 4 * time.Second

const tailFrames = int(Tail / time.Second * time.Duration(SampleRate))

// Stream is the sound of a timeline. Its samples are a pure function of the
// frame number. Both channels are the same. Streaming allocates nothing.
type Stream struct {
	score    *score
	gain     float64
	position int
	block    [1024]float64
}

var _ beep.StreamSeeker = (*Stream)(nil)

// Settings are how a timeline is to sound.
type Settings struct {
	Parts  sessions.Parts
	Volume int          // from 0, silent, to 100; see Gain
	Voice  *voice.Voice // nil for none, even if Parts asks for it
}

// New returns the sound of t. Without steps it is only the end mark.
func New(t *pacer.Timeline, s Settings) *Stream {
	return &Stream{score: newScore(t, s), gain: Gain(s.Volume)}
}

// newWords returns the sound of what is said after e, a moment after it; nil for
// nothing.
func newWords(e pacer.Event, s Settings) *Stream {
	if !s.Parts.Voice || s.Voice == nil {
		return nil
	}
	clip := s.Voice.Told(e)
	if clip == nil {
		return nil
	}
	at := SampleRate.N(calm)
	said := newSpeech([]voice.Said{{At: at, Clip: clip}})
	return &Stream{score: &score{speech: said, frames: at + len(clip)}, gain: Gain(s.Volume)}
}

// Stream implements beep.Streamer.
func (s *Stream) Stream(samples [][2]float64) (n int, ok bool) {
	samples = samples[:min(len(samples), s.Len()-s.position)]
	for done := 0; done < len(samples); {
		block := s.block[:min(len(s.block), len(samples)-done)]
		s.score.fill(block, s.position)
		for i, x := range block {
			x *= s.gain
			samples[done+i] = [2]float64{x, x}
		}
		done += len(block)
		s.position += len(block)
	}
	return len(samples), len(samples) > 0 || s.position < s.Len()
}

// Fill fills dst with the frames from at on, as 16-bit samples of one channel.
// They are those of Stream, rounded as an output rounds them; past the end they
// are silent. Fill does not move the position.
func (s *Stream) Fill(dst []int16, at int) {
	var block [1024]float64
	for done := 0; done < len(dst); done += len(block) {
		b := block[:min(len(block), len(dst)-done)]
		s.score.fill(b, at+done)
		to, gain := dst[done:done+len(b)], s.gain
		for i, x := range b {
			to[i] = Int16(x * gain)
		}
	}
}

// Int16 returns a sample as 16 bits, rounded to the nearest and clipped at full
// scale, ±1. x must be under 60000.
func Int16(x float64) int16 {
	x *= math.MaxInt16
	x += math.Copysign(0.5, x)
	return int16(max(-math.MaxInt16, min(math.MaxInt16, int32(x))))
}

// Err implements beep.Streamer. It is always nil.
func (s *Stream) Err() error { return nil }

// Len returns the number of frames: the timeline's and those of the Tail.
func (s *Stream) Len() int { return s.score.frames }

// Position returns the frame that is streamed next.
func (s *Stream) Position() int { return s.position }

// Seek sets the frame that is streamed next, from 0 to Len.
func (s *Stream) Seek(frame int) error {
	if frame < 0 || frame > s.Len() {
		return fmt.Errorf("seek to frame %d: the sound has frames 0 to %d", frame, s.Len())
	}
	s.position = frame
	return nil
}
