package out

import (
	"encoding/binary"
	"errors"
	"fmt"
	"math"
	"math/rand/v2"
	"time"
)

const (
	// How often the server is asked for its position: quickly at first, until
	// the clock is known to a fraction of a millisecond, then at uneven
	// intervals, lest they keep step with the steps of the server.
	quickAsks     = 20
	quickInterval = 10 * time.Millisecond
	slowInterval  = 150 * time.Millisecond // and up to a third more

	fewAnswers = 8                       // with fewer the clock so far is better
	standstill = 1500 * time.Millisecond // of a stream's position: it is lost
	afterEnd   = 200 * time.Millisecond  // that a stream stays after its last frame
)

// A stream is what plays at the server for one Play. It is run's alone. Its
// position at the server and the caller's frames differ by offset.
type stream struct {
	index  uint32
	play   int  // which Play it is for
	sent   int  // position of the next frame to send
	offset int  // frame = position + offset
	ended  bool // the source has no more

	joined  bool // it took over from one that was lost
	joining bool // and sends silence until its clock is known

	// PipeWire moves its position by a fixed number of frames at a time, when it
	// takes them, but leaves them out of its latency: the last step is only
	// about to be heard. This is the least move seen, 0 with PulseAudio.
	step int

	nextAsk  time.Time
	unheard  int       // questions in a row without an answer
	taken    int       // this and the next as of the last answer
	position float64   // heard
	moved    time.Time // when the position was last seen to run
	asked    int       // answers since it began to run
	timed    bool      // the clock has been set from answers
}

// start makes a stream for a Play and sets it going.
func (o *pulse) start(l *link, play int, join bool) (*stream, error) {
	index, frames, err := l.create()
	if err != nil {
		return nil, fmt.Errorf("the sound server makes no stream: %w", err)
	}
	o.fit.restart()
	st := &stream{index: index, play: play, joining: join, joined: join, moved: time.Now()}
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
	} else if now.Sub(st.moved) > standstill {
		return errors.New("the sound server has stopped playing")
	}
	return nil
}

// ask asks for the position of st and learns from the answer.
func (o *pulse) ask(l *link, st *stream) error {
	p, err := l.position(st.index)
	if errors.Is(err, errMute) {
		if st.unheard++; st.unheard < 2 {
			return nil
		}
		return errors.New("the sound server no longer answers")
	}
	if err != nil {
		return err
	}
	st.unheard = 0
	if d := p.taken - st.taken; l.stepping && d > 0 && (st.step == 0 || d < st.step) {
		st.step = d
		o.fit.restart()
	}
	st.taken = p.taken
	frame := float64(p.taken-st.step) - p.latency
	moves := frame > st.position
	st.position = frame
	// A stream that has run dry is nowhere. One that has not begun to run may
	// stand still; or its first frame waits behind what the device has taken
	// already, which only PulseAudio can tell.
	if p.taken >= st.sent || !p.running && (!moves || l.stepping) {
		return nil
	}
	st.moved = p.at
	st.asked++
	o.fit.add(frame, p.at)
	switch {
	case st.joining && st.asked >= quickAsks:
		o.join(st)
	case !st.joining && (!st.timed || len(o.fit.points) >= fewAnswers):
		o.setClock(st, o.fit.line())
		st.timed = true
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
		o.lead = min(o.clock.heard(0).Sub(o.played), maxLead)
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
