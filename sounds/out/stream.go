package out

import (
	"errors"
	"fmt"
	"time"
)

const (
	quickInterval = 10 * time.Millisecond   // between the first questions
	fewAnswers    = 8                       // see player.few
	standstill    = 1500 * time.Millisecond // of a stream's position: it is lost
	afterEnd      = 200 * time.Millisecond  // that a stream stays after its last frame
)

// A stream is what plays at the server for one Play. It is run's alone.
type stream struct {
	feed
	index uint32

	// PipeWire moves its position by a fixed number of frames at a time, when it
	// takes them, but leaves them out of its latency: the last step is only
	// about to be heard. This is the least move seen, 0 with PulseAudio.
	step int

	nextAsk  time.Time
	unheard  int       // questions in a row without an answer
	taken    int       // this and the next as of the last answer
	position float64   // heard
	moved    time.Time // when the position was last seen to run
}

// start makes a stream for a Play and sets it going.
func (o *pulse) start(l *link, play int, join bool) (*stream, error) {
	index, frames, err := l.create()
	if err != nil {
		return nil, fmt.Errorf("the sound server makes no stream: %w", err)
	}
	o.fit.restart()
	st := &stream{feed: feed{play: play, joining: join, joined: join}, index: index, moved: time.Now()}
	if !join {
		o.seek(&st.feed, 0)
	}
	o.fill(l, st, frames)
	if err := l.uncork(index); err != nil {
		return nil, err
	}
	if !join {
		// The best guess until the first answer.
		o.setClock(&st.feed, nominal(time.Now(), 0))
		o.report(nil)
	}
	return st, nil
}

// tend does for a stream what is due: news, samples, questions, its end.
func (o *pulse) tend(l *link, st *stream) error {
	n := l.take(st.index)
	if n.disturbed {
		o.forget(&st.feed)
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
		interval = slowly()
	}
	st.nextAsk = now.Add(interval)

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
	o.learn(&st.feed, frame, p.at)
	return nil
}

// fill sends the next n frames, fewer where the source ends.
func (o *pulse) fill(l *link, st *stream, n int) {
	for n > 0 {
		fs := o.frames[:min(n, len(o.frames))]
		fs = fs[:o.pull(&st.feed, fs)]
		if len(fs) == 0 {
			return
		}
		l.send(st.index, pack(o.bytes, fs))
		st.sent += len(fs)
		n -= len(fs)
	}
}
