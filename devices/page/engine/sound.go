//go:build js && wasm

package main

import (
	"encoding/binary"
	"math"
	"sync"
	"syscall/js"
	"time"

	"github.com/gopxl/beep/v2"

	"glidepace/sounds"
)

const (
	block  = int(sounds.SampleRate) / 2 // frames handed over at a time
	ahead  = 5 * block                  // frames: a hidden page may be woken a second late
	refill = 200 * time.Millisecond
	lead   = block / 10 // frames from Play to the first

	old = 250 // milliseconds after which a stamp says nothing

	// missed is for how long the sound must be away: the conductor then takes the
	// program to have stood still, and pauses.
	missed = 1100 * time.Millisecond
)

// speaker is the sound of the browser. It hands over blocks of samples that lie
// side by side on the clock of the audio context, frame by frame.
type speaker struct {
	context, gain js.Value
	// late reports that the browser's stamps leave out how late the sound is
	// heard, which it says elsewhere (Firefox).
	late   bool
	mu     sync.Mutex
	stream beep.StreamSeeker // nil for none
	first  int               // frame of the context's clock on which the stream began
	next   int               // frame of the stream that is handed over next
	nodes  []js.Value        // blocks that may sound
	floats []byte
	frames [][2]float64
}

var _ sounds.Output = (*speaker)(nil)

// newSpeaker returns the sound of a context. It must be called in the handler of
// a tap or a key, or the browser lets nothing sound.
func newSpeaker() *speaker {
	s := &speaker{floats: make([]byte, 4*block), frames: make([][2]float64, block)}
	s.context = js.Global().Get("AudioContext").New(map[string]any{"sampleRate": int(sounds.SampleRate), "latencyHint": "playback"})
	s.late = js.Global().Get("mozInnerScreenX").Type() != js.TypeUndefined
	s.resume()
	go func() {
		for range time.Tick(refill) {
			s.fill()
		}
	}()
	return s
}

// now returns the frame that the context's clock has come to.
func (s *speaker) now() int {
	return int(math.Ceil(s.context.Get("currentTime").Float() * float64(sounds.SampleRate)))
}

// Play implements sounds.Output.
func (s *speaker) Play(stream beep.StreamSeeker) {
	s.Hush()
	s.mu.Lock()
	s.gain = s.context.Call("createGain")
	s.gain.Call("connect", s.context.Get("destination"))
	s.first = s.now() + lead
	s.stream, s.next = stream, 0
	s.mu.Unlock()
	s.fill()
}

// Hush implements sounds.Output.
func (s *speaker) Hush() {
	s.mu.Lock()
	defer s.mu.Unlock()
	s.stream = nil
	if s.gain.Truthy() {
		s.gain.Call("disconnect")
	}
	for _, n := range s.nodes {
		n.Call("stop")
	}
	s.nodes = s.nodes[:0]
}

// running reports whether the browser plays. A call, a locked screen or another
// program can take the sound away; then it is asked for again.
func (s *speaker) running() bool {
	if s.context.Get("state").String() == "running" {
		return true
	}
	s.resume()
	return false
}

// resume asks for the sound. The browser may refuse it until the page is tapped.
func (s *speaker) resume() { s.context.Call("resume").Call("catch", ignore) }

var ignore = js.FuncOf(func(js.Value, []js.Value) any { return nil })

// Heard implements sounds.Output. Where the sound has been taken away it waits, so
// that the session is paused and does not go on unheard.
func (s *speaker) Heard(frame int) time.Time {
	runs := s.running()
	for since := time.Now(); !runs && time.Since(since) < missed; runs = s.running() {
		time.Sleep(20 * time.Millisecond)
	}
	s.mu.Lock()
	at := float64(s.first+frame) / float64(sounds.SampleRate) // on the context's clock
	s.mu.Unlock()
	stamp := s.context.Call("getOutputTimestamp")
	known, clock := stamp.Get("contextTime").Float(), stamp.Get("performanceTime").Float()
	now := time.Now()
	ms := js.Global().Get("performance").Call("now").Float()
	if s.late || !runs || ms-clock > old {
		known, clock = s.context.Get("currentTime").Float(), ms
		if latency := s.context.Get("outputLatency"); latency.Type() == js.TypeNumber {
			known -= latency.Float()
		}
	}
	return now.Add(time.Duration(((at-known)*1000 + clock - ms) * float64(time.Millisecond)))
}

// fill hands over blocks until enough of them wait.
func (s *speaker) fill() {
	s.mu.Lock()
	defer s.mu.Unlock()
	for s.stream != nil {
		waiting := s.first + s.next - s.now() // frames that are still to be heard
		if waiting >= ahead {
			return
		}
		if waiting < lead/2 { // the page stood still: it goes on where it was
			s.first += lead - waiting
		}
		n, ok := s.stream.Stream(s.frames)
		if !ok {
			s.stream = nil
			return
		}
		for i, f := range s.frames[:n] {
			binary.LittleEndian.PutUint32(s.floats[4*i:], math.Float32bits(float32(sounds.Int16(f[0]))/32768))
		}
		s.hand(n)
		s.next += n
	}
}

// hand schedules the first n frames right after those before them.
func (s *speaker) hand(n int) {
	rate := float64(sounds.SampleRate)
	buffer := s.context.Call("createBuffer", 1, n, rate)
	bytes := js.Global().Get("Uint8Array").New(buffer.Call("getChannelData", 0).Get("buffer"))
	js.CopyBytesToJS(bytes, s.floats[:4*n])
	node := s.context.Call("createBufferSource")
	node.Set("buffer", buffer)
	node.Call("connect", s.gain)
	node.Call("start", float64(s.first+s.next)/rate)
	if len(s.nodes) > ahead/block+2 { // the first has sounded
		s.nodes = append(s.nodes[:0], s.nodes[1:]...)
	}
	s.nodes = append(s.nodes, node)
}
