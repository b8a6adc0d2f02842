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
	lead   = 0.05 // seconds from Play to the first frame
)

// speaker is the sound of the browser. It hands over blocks of samples that lie
// side by side on the clock of the audio context, frame by frame.
type speaker struct {
	context, gain js.Value
	// late reports that the browser's stamps leave out how late the sound is
	// heard, which it says elsewhere (Firefox).
	late bool

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
	s.context.Call("resume")
	go func() {
		for range time.Tick(refill) {
			s.fill()
		}
	}()
	return s
}

func (s *speaker) now() float64 { return s.context.Get("currentTime").Float() }

// Play implements sounds.Output.
func (s *speaker) Play(stream beep.StreamSeeker) {
	s.Hush()
	s.mu.Lock()
	s.gain = s.context.Call("createGain")
	s.gain.Call("connect", s.context.Get("destination"))
	s.first = int(math.Ceil((s.now() + lead) * float64(sounds.SampleRate)))
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

// Heard implements sounds.Output.
func (s *speaker) Heard(frame int) time.Time {
	s.mu.Lock()
	at := float64(s.first+frame) / float64(sounds.SampleRate) // on the context's clock
	s.mu.Unlock()
	stamp := s.context.Call("getOutputTimestamp")
	known, clock := stamp.Get("contextTime").Float(), stamp.Get("performanceTime").Float()
	now := time.Now()
	ms := js.Global().Get("performance").Call("now").Float()
	if s.late || clock == 0 {
		known, clock = s.now(), ms
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
	for s.stream != nil && float64(s.first+s.next-ahead) < s.now()*float64(sounds.SampleRate) {
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
