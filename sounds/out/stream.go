package out

import (
	"errors"
	"fmt"
	"time"
)

const (
	quickInterval = 10 * time.Millisecond   // between the first questions
	fewAnswers    = 8                       // see player.few
	standstill    = 1500 * time.Millisecond // a stream whose position stands still so long is lost
	afterEnd      = 200 * time.Millisecond  // how long a stream stays after its last frame
)

// A stream is what plays at the server for one Play.
type stream struct {
	feed
	index uint32

	// PipeWire moves its position a fixed number of frames at a time, when it
	// takes them, and does not count them as latency although they are only
	// about to be heard. This is the smallest move seen; 0 with PulseAudio.
	step int

	nextAsk    time.Time
	unanswered int       // questions in a row
	taken      int       // frames that the device had taken, at the last answer
	position   float64   // frame that was heard, at the last answer
	moved      time.Time // when the position was last seen to run, plus the time by which we asked late
}

// start makes a stream for a Play and sets it going.
func (o *pulse) start(play int, join bool) (*stream, error) {
	index, frames, err := o.link.create()
	if err != nil {
		return nil, fmt.Errorf("the sound server makes no stream: %w", err)
	}
	o.fit.restart()
	now := time.Now()
	st := &stream{feed: feed{play: play, joining: join, joined: join}, index: index, moved: now, nextAsk: now}
	if !join {
		o.seek(&st.feed, 0)
	}
	o.fill(st, frames)
	if err := o.link.uncork(index); err != nil {
		return nil, err
	}
	if !join {
		// The best guess until the first answer.
		o.setClock(&st.feed, nominal(time.Now(), 0))
		o.report(nil)
	}
	return st, nil
}

// tend does what is due for a stream: it takes in news, sends samples, asks for
// the position and sees to the end.
func (o *pulse) tend(st *stream) error {
	n := o.link.take(st.index)
	if n.disturbed {
		o.forget(&st.feed)
	}
	o.fill(st, n.frames)
	now := time.Now()
	if now.Before(st.nextAsk) {
		return nil
	}
	st.moved = st.moved.Add(now.Sub(st.nextAsk)) // if we stood still ourselves, it is not the server's fault
	if err := o.ask(st); err != nil {
		return err
	}
	now = time.Now() // the answer may have taken long, and that is the server's fault
	st.nextAsk = now.Add(quickInterval)
	if st.answers >= quickAsks {
		st.nextAsk = nextSlowly(now)
	}

	if st.ended {
		last := o.Heard(st.sent + st.offset)
		if now.After(last.Add(afterEnd)) {
			o.finish(&st.feed)
		}
	} else if now.Sub(st.moved) > standstill {
		return errors.New("the sound server has stopped playing")
	}
	return nil
}

// ask asks for the position of st and learns from the answer.
func (o *pulse) ask(st *stream) error {
	p, err := o.link.position(st.index)
	if errors.Is(err, errNoAnswer) {
		if st.unanswered++; st.unanswered < 2 {
			return nil
		}
		return errors.New("the sound server no longer answers")
	}
	if err != nil {
		return err
	}
	st.unanswered = 0
	if d := p.taken - st.taken; o.link.stepping && d > 0 && (st.step == 0 || d < st.step) {
		st.step = d
		o.fit.restart()
	}
	st.taken = p.taken
	frame := float64(p.taken-st.step) - p.latency
	moves := frame > st.position
	st.position = frame
	// A stream that has run dry tells nothing. One that is not running may stand
	// still, or its first frame may wait behind what the device took before,
	// and only PulseAudio shows which.
	if p.taken >= st.sent || !p.running && (!moves || o.link.stepping) {
		return nil
	}
	st.moved = p.at
	o.learn(&st.feed, frame, p.at)
	return nil
}

// fill sends the next n frames, or fewer where the source ends.
func (o *pulse) fill(st *stream, n int) {
	for n > 0 {
		fs := o.frames[:min(n, len(o.frames))]
		fs = fs[:o.pull(&st.feed, fs)]
		if len(fs) == 0 {
			return
		}
		o.link.send(st.index, pack(o.bytes, fs))
		st.sent += len(fs)
		n -= len(fs)
	}
}
