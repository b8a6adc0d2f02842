// Package out takes sound to the person's ears, and tells when it gets there.
//
// The rest of the program makes sound as data: streams of samples in which
// every cue has its exact frame. Only this package opens a way out for them.
// There are four:
//
//   - "pulse": PulseAudio's native protocol, which PipeWire serves too, spoken
//     over a socket in pure Go;
//   - "aplay": ALSA's program of that name, on Linux, fed through a pipe;
//   - "speaker": the speaker of package beep, on macOS and Windows, and on
//     Linux in a build with the tag alsa (which needs cgo and ALSA's headers);
//   - "off": no sound, see [Silent].
//
// # The clock is what is heard
//
// A screen or a buzzer that goes with the sound cannot trust the moment at
// which samples are handed over. They are heard tens or hundreds of
// milliseconds later, and a sound card's crystal may be 50 millionths fast or
// slow, which is 45 ms in a quarter of an hour. So an [Output] answers the
// question that matters, [Output.Heard]: when is this frame heard?
//
// How well it answers depends on the way. A sound server tells its position,
// and Heard is right within a few milliseconds. aplay tells nothing. Its
// position is worked out from how fast it takes samples, which shows every
// drift and gap but not how much sound the device holds. So everything is heard
// early or late by the same amount, some tens of milliseconds, depending on the
// device. The speaker's clock is only that of its start.
//
// # Sound may die, the session goes on
//
// Sound servers crash, restart and lose their devices; aplay ends when its
// device goes. Heard then goes on by the clock as if nothing had happened. When
// sound can be had again, it joins in at the frame that is due by then. The
// caller is told once of each.
package out

import (
	"errors"
	"fmt"
	"runtime"
	"strings"
	"time"

	"github.com/gopxl/beep/v2"
)

// Output plays one stream after another, all at sounds.SampleRate, and tells
// when their frames are heard. Its methods may be called from any goroutine. A
// stream given to Play belongs to the output until the next Play, Hush or Close
// has returned. The stream's Stream and Seek must be quick, because all methods
// wait for them. A stream that fails sounds as if it had ended.
type Output interface {
	// Play sounds s from its first frame, at once, in place of whatever
	// sounded. It returns without waiting for the sound.
	Play(s beep.StreamSeeker)
	// Hush silences at once. It may be called when nothing sounds.
	Hush()
	// Heard returns when a frame of the stream played last is (was, will be)
	// heard; after Hush, when it would have been heard. It always has an
	// answer, with a monotonic reading. The answer for a frame moves a little
	// as more is learnt about the device's clock, so a caller that waits for a
	// frame far ahead should ask again on the way.
	Heard(frame int) time.Time
	// Name is the way out in a word: "pulse", "aplay", "speaker", "off".
	Name() string
	// Close silences and lets go of the device. Closing again does nothing;
	// Heard still answers afterwards.
	Close() error
}

// Ways are the words that Open takes.
var Ways = []string{"auto", "pulse", "aplay", "speaker", "off"}

// Open opens a way out. "auto" takes the one that suits the system: speaker on
// macOS and Windows, pulse elsewhere, and on Linux aplay where there is no
// sound server.
//
// The Output is never nil. Where no sound can be had it is a [Silent] one, and
// the error tells the person in one line why, and what would help.
//
// changed, if not nil, is called with the reason when sound is lost, and with
// nil when it is back. It is called from the output's own goroutine and must
// not block or call the output's Close.
func Open(way string, changed func(lost error)) (Output, error) {
	ways := []string{way}
	if way == "auto" {
		ways = automatic()
	}
	var errs []string
	for _, w := range ways {
		var o Output
		var err error
		switch w {
		case "off":
			return new(Silent), nil
		case "pulse":
			o, err = openPulse(changed)
		case "aplay":
			o, err = openAplay(changed)
		case "speaker":
			o, err = openSpeaker()
		default:
			return new(Silent), fmt.Errorf("no sound: %q is not a way out, known are %s", w, strings.Join(Ways, ", "))
		}
		if err == nil {
			return o, nil
		}
		errs = append(errs, err.Error())
	}
	return new(Silent), errors.New("no sound from " + strings.Join(errs, ", nor from "))
}

// automatic returns what to try on this system, in order. On Linux that is never
// the speaker: ALSA in process neither reports a server's death nor ends with
// it.
func automatic() []string {
	switch runtime.GOOS {
	case "darwin", "windows":
		return []string{"speaker"}
	case "linux":
		return []string{"pulse", "aplay"}
	}
	return []string{"pulse"}
}
