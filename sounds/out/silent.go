package out

import (
	"sync"
	"time"

	"github.com/gopxl/beep/v2"

	"glidepace/sounds"
)

// Silent is the Output for a session without sound. Frames pass at their rate on
// the monotonic clock, and nothing is heard. Its zero value is ready.
type Silent struct {
	mu    sync.Mutex
	start time.Time // of the first frame
}

var _ Output = (*Silent)(nil)

// Play starts the clock. The stream itself is left alone.
func (o *Silent) Play(beep.StreamSeeker) {
	o.mu.Lock()
	defer o.mu.Unlock()
	o.start = time.Now()
}

// Hush does nothing.
func (o *Silent) Hush() {}

// Heard returns the moment of Play plus the time of the frame.
func (o *Silent) Heard(frame int) time.Time {
	o.mu.Lock()
	defer o.mu.Unlock()
	if o.start.IsZero() {
		o.start = time.Now()
	}
	return o.start.Add(sounds.SampleRate.D(frame))
}

// Name returns "off".
func (o *Silent) Name() string { return "off" }

// Close does nothing.
func (o *Silent) Close() error { return nil }
