package sounds

import (
	"fmt"
	"time"

	"github.com/gopxl/beep/v2"

	"glidepace/pacer"
)

// SampleRate is the rate of all sound here, in frames per second.
const SampleRate beep.SampleRate = 48000

// Tail is how long a stream goes on after the end of its timeline: long
// enough for the end mark of the last set.
const Tail = 2 * time.Second

const tailFrames = int(Tail / time.Second * time.Duration(SampleRate))

// Stream is the sound of a timeline. Its samples are a pure function of the
// frame number: the same whatever is streamed at a time and wherever Seek
// enters. Both channels are the same. Streaming allocates nothing.
type Stream struct {
	score    *score
	gain     float64
	position int
	block    [1024]float64
}

var _ beep.StreamSeeker = (*Stream)(nil)

// New returns the sound of t at a volume from 0, silent, to 100; see Gain.
// A timeline without steps is the end mark alone.
func New(t *pacer.Timeline, volume int) *Stream {
	return &Stream{score: newScore(t), gain: Gain(volume)}
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
