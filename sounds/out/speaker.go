//go:build darwin || windows || alsa

package out

import (
	"fmt"
	"sync"
	"time"

	"github.com/gopxl/beep/v2"
	beepspeaker "github.com/gopxl/beep/v2/speaker"

	"glidepace/sounds"
)

// speakerBuffer is how much sound the speaker takes in advance: so much is still
// heard after Hush, and so late is a frame heard after it was taken.
const speakerBuffer = 40 * time.Millisecond

// speaker is the Output through beep's speaker. A process can have only one. It
// cannot tell what is heard, so its clock counts from when the first frame was
// taken, plus the buffer.
type speaker struct {
	mu    sync.Mutex
	src   beep.StreamSeeker // nil when nothing is to sound
	taken bool              // the first frame of src has been
	first time.Time         // when that frame is heard
}

var _ Output = (*speaker)(nil)

func openSpeaker() (Output, error) {
	o := &speaker{first: time.Now()}
	if err := beepspeaker.Init(sounds.SampleRate, sounds.SampleRate.N(speakerBuffer)); err != nil {
		return nil, fmt.Errorf("the speaker: %w (connect a loudspeaker or headphones)", err)
	}
	beepspeaker.Play(beep.StreamerFunc(o.stream))
	return o, nil
}

// stream gives the speaker what is to sound, or silence.
func (o *speaker) stream(frames [][2]float64) (int, bool) {
	o.mu.Lock()
	defer o.mu.Unlock()
	n := 0
	if o.src != nil {
		if !o.taken {
			o.taken = true
			o.first = time.Now().Add(speakerBuffer)
		}
		for ok := true; ok && n < len(frames); {
			var k int
			k, ok = o.src.Stream(frames[n:])
			n += k
			ok = ok && k > 0
		}
	}
	clear(frames[n:])
	return len(frames), true
}

func (o *speaker) Play(s beep.StreamSeeker) {
	o.mu.Lock()
	defer o.mu.Unlock()
	o.src, o.taken = s, false
	if s.Seek(0) != nil {
		o.src = nil
	}
	o.first = time.Now().Add(speakerBuffer)
}

func (o *speaker) Hush() {
	o.mu.Lock()
	defer o.mu.Unlock()
	o.src = nil
}

func (o *speaker) Heard(frame int) time.Time {
	o.mu.Lock()
	defer o.mu.Unlock()
	return o.first.Add(sounds.SampleRate.D(frame))
}

func (o *speaker) Name() string { return "speaker" }

func (o *speaker) Close() error {
	o.Hush()
	beepspeaker.Close()
	return nil
}
