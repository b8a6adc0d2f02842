package out

import (
	"encoding/binary"
	"math"
	"math/rand/v2"
	"sync"
	"time"

	"github.com/gopxl/beep/v2"

	"glidepace/sounds"
)

const (
	bytesPerFrame = 4 // two channels of 16 bits

	retry = time.Second // between attempts to get the sound back

	// The clock is set from the device's answers: from the first quickAsks in
	// quick succession, then at longer, uneven intervals, which cannot fall in
	// step with a device that moves in steps.
	quickAsks    = 20
	slowInterval = 150 * time.Millisecond // and up to a third more
)

// A player is what pulse and aplay have in common: what the caller wants, what
// is due next, and the clock. The output's own goroutine, run, does the work;
// Play, Hush and Heard only touch what mu protects.
type player struct {
	changed func(error)
	stopped chan struct{} // closed when run has returned
	wake    chan struct{} // gets a token when what is wanted has changed
	maxLead time.Duration // for lead
	few     int           // answers that it takes to replace the first guess of the clock

	mu     sync.Mutex
	src    beep.StreamSeeker // nil when nothing is to sound
	plays  int               // counts Plays
	played time.Time         // when the last Play was
	clock  line              // of the frames of the stream played last
	lead   time.Duration     // from Play to the first frame, at the last Play
	closed bool

	// Used by run alone.
	fit    fit
	lost   bool // the caller has been told that there is no sound
	frames [][2]float64
	bytes  []byte
}

// newPlayer returns a player that sends up to size frames at a time. It expects
// the first frame to be heard lead after Play, and maxLead after it at most.
func newPlayer(changed func(error), size int, lead, maxLead time.Duration) player {
	return player{
		changed: changed,
		stopped: make(chan struct{}), wake: make(chan struct{}, 1),
		clock: nominal(time.Now(), 0), lead: lead, maxLead: maxLead,
		frames: make([][2]float64, size),
		bytes:  make([]byte, size*bytesPerFrame),
	}
}

// A feed is what is sent to a device for one Play. The device counts what it is
// sent from 0; its positions and the caller's frames differ by offset.
type feed struct {
	play   int  // which Play it is for
	sent   int  // position of the next frame to send
	offset int  // frame = position + offset
	ended  bool // the source has no more

	joined  bool // it took over from a feed that was lost
	joining bool // and sends silence until its clock is known

	answers int  // from the device since it began to run
	timed   bool // the clock has been set from answers
}

// run does what the caller wants until the output is closed.
//
// serve plays whatever is wanted. It returns nil when the output is closed, or
// else why the sound is lost; then reopen is tried until it works. The Play
// numbered joined had begun before that, and is joined where it is by now.
func (o *player) run(serve func(joined int) error, reopen func() error) {
	defer close(o.stopped)
	joined := 0
	for {
		err := serve(joined)
		if _, closed := o.wanted(); closed {
			return
		}
		o.report(err)
		for err != nil {
			if !o.pause(retry) {
				return
			}
			err = reopen()
		}
		joined, _ = o.wanted()
	}
}

func (o *player) Play(s beep.StreamSeeker) {
	o.mu.Lock()
	defer o.mu.Unlock()
	if o.closed {
		return
	}
	o.src = s
	o.plays++
	o.played = time.Now()
	o.clock = nominal(o.played.Add(o.lead), 0)
	poke(o.wake)
}

func (o *player) Hush() {
	o.mu.Lock()
	defer o.mu.Unlock()
	o.src = nil
	poke(o.wake)
}

func (o *player) Heard(frame int) time.Time {
	o.mu.Lock()
	defer o.mu.Unlock()
	return o.clock.heard(float64(frame))
}

// close hushes for good.
func (o *player) close() {
	o.mu.Lock()
	defer o.mu.Unlock()
	o.src, o.closed = nil, true
	poke(o.wake)
}

// poke puts a token into a channel that holds one.
func poke(wake chan<- struct{}) {
	select {
	case wake <- struct{}{}:
	default:
	}
}

// pause waits for d. It reports false if the output has been closed.
func (o *player) pause(d time.Duration) bool {
	end := time.After(d)
	for {
		if _, closed := o.wanted(); closed {
			return false
		}
		select {
		case <-end:
			return true
		case <-o.wake:
		}
	}
}

// report tells the caller once that sound is lost, and with nil that it is back.
func (o *player) report(err error) {
	if o.lost == (err != nil) {
		return
	}
	o.lost = err != nil
	if o.changed != nil {
		o.changed(err)
	}
}

// wanted returns the number of the Play that is to sound, 0 for none, and
// whether the output has been closed.
func (o *player) wanted() (play int, closed bool) {
	o.mu.Lock()
	defer o.mu.Unlock()
	if o.src != nil {
		play = o.plays
	}
	return play, o.closed
}

// nextSlowly is when to ask again once the clock is known.
func nextSlowly(now time.Time) time.Time {
	return now.Add(slowInterval + rand.N(slowInterval/3))
}

// learn takes in an answer of the device: position frame of f was heard at t or
// before.
func (o *player) learn(f *feed, frame float64, t time.Time) {
	f.answers++
	o.fit.add(frame, t)
	switch {
	case f.joining && f.answers >= quickAsks:
		o.join(f)
	case !f.joining && (!f.timed || len(o.fit.points) >= o.few):
		o.setClock(f, o.fit.line())
		f.timed = true
	}
}

// forget forgets the answers so far, because the device may have stood still.
func (o *player) forget(f *feed) {
	o.fit.restart()
	f.answers = 0
}

// setClock takes l, a line of positions of f, as the clock of what is heard.
func (o *player) setClock(f *feed, l line) {
	o.mu.Lock()
	defer o.mu.Unlock()
	if o.plays != f.play {
		return
	}
	o.clock = l.shifted(f.offset)
	if f.answers == quickAsks && !f.joined && f.sent < 2*int(sounds.SampleRate) { // not after a gap
		o.lead = min(o.clock.heard(0).Sub(o.played), o.maxLead)
	}
}

// join brings the source in where it is due by the clock, which has gone on
// meanwhile. Until now f has sent silence, to learn when its positions are
// heard.
func (o *player) join(f *feed) {
	l := o.fit.line()
	at := l.heard(float64(f.sent)) // of what is sent next
	o.mu.Lock()
	frame := int(math.Round(o.clock.heardAt(at)))
	o.mu.Unlock()
	f.joining = false
	f.offset = frame - f.sent
	o.seek(f, max(0, frame))
	o.report(nil)
}

// seek sets the source to a frame. A source that cannot be set has ended.
func (o *player) seek(f *feed, frame int) {
	o.mu.Lock()
	defer o.mu.Unlock()
	if o.plays == f.play && o.src != nil {
		f.ended = frame > o.src.Len() || o.src.Seek(frame) != nil
	}
}

// pull puts the next frames of f into fs and returns how many there are.
func (o *player) pull(f *feed, fs [][2]float64) int {
	o.mu.Lock()
	defer o.mu.Unlock()
	if o.plays != f.play || o.src == nil {
		return 0
	}
	n := 0
	if f.joining {
		n = len(fs)
	} else if next := f.sent + f.offset; next < 0 { // joined before its first frame
		n = min(-next, len(fs))
	}
	clear(fs[:n])
	for n < len(fs) && !f.ended {
		k, ok := o.src.Stream(fs[n:])
		n += k
		f.ended = !ok || k == 0
	}
	return n
}

// pack writes frames as 16-bit samples, low byte first, into b.
func pack(b []byte, frames [][2]float64) []byte {
	b = b[:0]
	for _, f := range frames {
		for _, x := range f {
			b = binary.LittleEndian.AppendUint16(b, uint16(sounds.Int16(x)))
		}
	}
	return b
}

// finish ends a Play whose last frame has been heard.
func (o *player) finish(f *feed) {
	o.mu.Lock()
	defer o.mu.Unlock()
	if o.plays == f.play {
		o.src = nil
		poke(o.wake)
	}
}
