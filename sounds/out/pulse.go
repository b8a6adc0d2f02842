package out

import (
	"context"
	"encoding/binary"
	"errors"
	"fmt"
	"math"
	"math/rand/v2"
	"net"
	"sync"
	"time"

	"github.com/gopxl/beep/v2"
)

const (
	// How often the server is asked for its position: quickly at first, until
	// the clock is known to a fraction of a millisecond, then at uneven
	// intervals, lest they keep step with the steps of the server.
	quickAsks     = fitRecent
	quickInterval = 10 * time.Millisecond
	slowInterval  = 150 * time.Millisecond // and up to a third more
	fewAnswers    = 8                      // before these the clock set from others is better

	standstill = 1500 * time.Millisecond // of a stream's position: it is lost
	retry      = time.Second             // between attempts to find a server again
	afterEnd   = 200 * time.Millisecond  // that a stream stays after its last frame
	closeGrace = 200 * time.Millisecond  // for the server to be told of the end
)

// pulse is the Output through a PulseAudio or PipeWire server.
//
// Every Play makes a stream of its own at the server, whose position counts
// from 0, and removes the one before: so no answer, request or sample can be
// taken for another stream's, and pausing needs no state but "no stream".
//
// One goroutine, run, talks to the server. Play, Hush and Heard only touch what
// mu protects.
type pulse struct {
	changed func(error)
	ctx     context.Context // ends when the server need no longer be talked to
	cancel  context.CancelFunc
	stopped chan struct{} // closed when run has returned
	wake    chan struct{} // gets a token when wanted has changed

	mu     sync.Mutex
	src    beep.StreamSeeker // nil when nothing is to sound
	plays  int               // counts Plays
	played time.Time         // when the last Play was
	clock  line              // of the frames of the stream played last
	lead   time.Duration     // from Play to the first frame, at the last Play
	closed bool

	// For run alone.
	fit    fit
	lost   bool // the caller believes that there is no sound
	frames [][2]float64
	bytes  []byte
}

var _ Output = (*pulse)(nil)

// A stream is one that plays at the server. Its position and the caller's
// frames differ by offset.
type stream struct {
	index   uint32
	play    int  // which Play it is for
	sent    int  // position of the next frame to send
	offset  int  // frame = position + offset
	joining bool // silence is sent until the clock is known
	joined  bool
	ended   bool // the source has no more
	timed   bool // the clock has been set from an answer
	// PipeWire moves its position by a fixed number of frames at a time, when it
	// takes them, but leaves them out of its latency: the last step is only
	// about to be heard. This is the least move seen, 0 with PulseAudio.
	step    int
	taken   int // at the last answer
	asked   int // answers since the position began to run
	unheard int // questions in a row without an answer
	nextAsk time.Time
	running time.Time // when the position was last seen to run
}

func openPulse(changed func(error)) (Output, error) {
	ctx, cancel := context.WithCancel(context.Background())
	l, err := dial(ctx)
	if err != nil {
		cancel()
		return nil, fmt.Errorf("%w (PulseAudio or PipeWire, once started, would give it)", err)
	}
	o := &pulse{
		changed: changed,
		ctx:     ctx, cancel: cancel,
		stopped: make(chan struct{}), wake: make(chan struct{}, 1),
		clock: nominal(time.Now(), 0), lead: 3 * time.Millisecond,
		frames: make([][2]float64, requestFrames),
		bytes:  make([]byte, requestFrames*bytesPerFrame),
	}
	go o.run(l)
	return o, nil
}

func (o *pulse) Play(s beep.StreamSeeker) {
	o.mu.Lock()
	defer o.mu.Unlock()
	if o.closed {
		return
	}
	o.src = s
	o.plays++
	o.played = time.Now()
	o.clock = nominal(o.played.Add(o.lead), 0)
	o.poke()
}

func (o *pulse) Hush() {
	o.mu.Lock()
	defer o.mu.Unlock()
	o.src = nil
	o.poke()
}

func (o *pulse) Heard(frame int) time.Time {
	o.mu.Lock()
	defer o.mu.Unlock()
	return o.clock.heard(float64(frame))
}

func (o *pulse) Name() string { return "pulse" }

func (o *pulse) Close() error {
	o.mu.Lock()
	o.src, o.closed = nil, true
	o.poke()
	o.mu.Unlock()
	select {
	case <-o.stopped:
	case <-time.After(closeGrace):
	}
	o.cancel()
	<-o.stopped
	return nil
}

func (o *pulse) poke() {
	select {
	case o.wake <- struct{}{}:
	default:
	}
}

// run plays through l, and when l ends, through another.
func (o *pulse) run(l *link) {
	defer close(o.stopped)
	for again := false; ; again = true {
		err := o.serve(l, again)
		if o.wanted().closed {
			l.end(net.ErrClosed)
			return
		}
		l.end(err)
		o.report(err)
		for l = nil; l == nil; {
			if !o.pause(retry) {
				return
			}
			l, _ = dial(o.ctx)
		}
	}
}

// pause waits for d. It reports false if the output has been closed.
func (o *pulse) pause(d time.Duration) bool {
	end := time.After(d)
	for {
		if o.wanted().closed {
			return false
		}
		select {
		case <-end:
			return true
		case <-o.wake:
		}
	}
}

// report tells the caller that sound is lost, or with nil that it is back.
func (o *pulse) report(err error) {
	if o.lost == (err != nil) {
		return
	}
	o.lost = err != nil
	if o.changed != nil {
		o.changed(err)
	}
}

type wanted struct {
	play   int // the Play that is to sound, 0 if none
	played time.Time
	closed bool
}

func (o *pulse) wanted() wanted {
	o.mu.Lock()
	defer o.mu.Unlock()
	w := wanted{o.plays, o.played, o.closed}
	if o.src == nil {
		w.play = 0
	}
	return w
}

// serve does through l what is wanted, until it is to be closed (nil) or the
// sound is lost (why). With join, what sounds already is joined where it is.
func (o *pulse) serve(l *link, join bool) error {
	timer := time.NewTimer(0)
	defer timer.Stop()
	joined := 0
	if join {
		joined = o.wanted().play
	}
	var st *stream
	for {
		w := o.wanted()
		if st != nil && st.play != w.play {
			if err := l.remove(st.index); err != nil {
				return err
			}
			st = nil
		}
		if w.closed {
			return nil
		}
		if st == nil && w.play != 0 {
			var err error
			if st, err = o.start(l, w.play, w.play == joined); err != nil {
				return err
			}
		}
		if st == nil {
			o.report(nil)
		} else if err := o.tend(l, st); err != nil {
			return err
		}

		var due <-chan time.Time
		if st != nil {
			timer.Reset(time.Until(st.nextAsk))
			due = timer.C
		}
		select {
		case <-o.wake:
		case <-l.wake:
		case <-due:
		}
		if err := l.why(); err != nil {
			return err
		}
	}
}

// start makes a stream for a Play and sets it going.
func (o *pulse) start(l *link, play int, join bool) (*stream, error) {
	index, frames, err := l.create()
	if err != nil {
		return nil, err
	}
	o.fit.restart()
	st := &stream{index: index, play: play, joining: join, joined: join, running: time.Now()}
	if !join {
		o.seek(st, 0)
	}
	o.fill(l, st, frames)
	if err := l.uncork(index); err != nil {
		return nil, err
	}
	if !join {
		// The best guess until the first answer.
		o.setClock(st, nominal(time.Now(), 0))
		o.report(nil)
	}
	return st, nil
}

// tend does for a stream what is due: news, samples, questions, its end.
func (o *pulse) tend(l *link, st *stream) error {
	n := l.take(st.index)
	if n.disturbed {
		o.fit.restart()
		st.asked = 0
	}
	o.fill(l, st, n.frames)
	now := time.Now()
	if now.Before(st.nextAsk) {
		return nil
	}
	if err := o.ask(l, st); err != nil {
		return err
	}
	interval := quickInterval
	if st.asked >= quickAsks {
		interval = slowInterval + rand.N(slowInterval/3)
	}
	st.nextAsk = now.Add(interval)

	if st.ended {
		last := o.Heard(st.sent + st.offset)
		if now.After(last.Add(afterEnd)) {
			o.finish(st)
		}
	} else if now.Sub(st.running) > standstill {
		return errors.New("the sound server has stopped playing")
	}
	return nil
}

// ask asks for the position of st and learns from the answer.
func (o *pulse) ask(l *link, st *stream) error {
	p, err := l.position(st.index)
	if errors.Is(err, context.DeadlineExceeded) {
		if st.unheard++; st.unheard < 2 {
			return nil
		}
		return errors.New("the sound server no longer answers")
	}
	if err != nil {
		return err
	}
	st.unheard = 0
	if !p.running {
		return nil
	}
	st.running = p.at
	st.asked++
	if d := p.taken - st.taken; l.stepping && d > 0 && (st.step == 0 || d < st.step) {
		st.step = d
		o.fit.restart()
	}
	st.taken = p.taken
	o.fit.add(float64(p.taken-st.step)-p.latency, p.at)
	switch {
	case st.joining && st.asked >= quickAsks:
		o.join(st)
	case !st.joining && (!st.timed || len(o.fit.points) >= fewAnswers):
		o.setClock(st, o.fit.line())
	}
	return nil
}

// setClock makes l, a line of positions of st, the clock of what is heard.
func (o *pulse) setClock(st *stream, l line) {
	o.mu.Lock()
	defer o.mu.Unlock()
	if o.plays != st.play {
		return
	}
	o.clock = l.shifted(st.offset)
	if st.asked == quickAsks && !st.joined {
		o.lead = o.clock.heard(0).Sub(o.played)
	}
}

// join brings the source in where it is due by the clock that has gone on
// meanwhile. Until now silence was sent, to learn when this stream's positions
// are heard.
func (o *pulse) join(st *stream) {
	l := o.fit.line()
	at := l.heard(float64(st.sent)) // of what is sent next
	o.mu.Lock()
	frame := int(math.Round(o.clock.heardAt(at)))
	o.mu.Unlock()
	st.joining = false
	st.offset = frame - st.sent
	o.seek(st, max(0, frame))
	o.report(nil)
}

// seek sets the source to a frame. A source that cannot has ended.
func (o *pulse) seek(st *stream, frame int) {
	o.mu.Lock()
	defer o.mu.Unlock()
	if o.plays == st.play && o.src != nil {
		st.ended = frame > o.src.Len() || o.src.Seek(frame) != nil
	}
}

// fill sends the next n frames, fewer where the source ends.
func (o *pulse) fill(l *link, st *stream, n int) {
	for n > 0 {
		fs := o.frames[:min(n, len(o.frames))]
		fs = fs[:o.pull(st, fs)]
		if len(fs) == 0 {
			return
		}
		l.send(st.index, pack(o.bytes, fs))
		st.sent += len(fs)
		n -= len(fs)
	}
}

// pull puts the next frames of st into fs and returns how many there are.
func (o *pulse) pull(st *stream, fs [][2]float64) int {
	o.mu.Lock()
	defer o.mu.Unlock()
	if o.plays != st.play || o.src == nil {
		return 0
	}
	n := 0
	if st.joining {
		n = len(fs)
	} else if next := st.sent + st.offset; next < 0 { // joined before its first frame
		n = min(-next, len(fs))
	}
	clear(fs[:n])
	for n < len(fs) && !st.ended {
		k, ok := o.src.Stream(fs[n:])
		n += k
		st.ended = !ok || k == 0
	}
	return n
}

// pack writes frames as 16-bit samples, low byte first, into b.
func pack(b []byte, frames [][2]float64) []byte {
	b = b[:0]
	for _, f := range frames {
		for _, x := range f {
			b = binary.LittleEndian.AppendUint16(b, uint16(int16(math.Round(max(-1, min(1, x))*math.MaxInt16))))
		}
	}
	return b
}

// finish ends a Play whose last frame has been heard.
func (o *pulse) finish(st *stream) {
	o.mu.Lock()
	defer o.mu.Unlock()
	if o.plays == st.play {
		o.src = nil
		o.poke()
	}
}
