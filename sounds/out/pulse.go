package out

import (
	"context"
	"net"
	"time"
)

const (
	maxLead    = 50 * time.Millisecond  // to be expected from Play to the first frame
	closeGrace = 200 * time.Millisecond // for the server to be told of the end
)

// pulse is the Output through a PulseAudio or PipeWire server.
//
// Every Play makes a stream of its own at the server, whose position counts
// from 0, and removes the one before: so no answer, request or sample can be
// taken for another stream's, and pausing needs no state but "no stream".
//
// One goroutine, run, talks to the server.
type pulse struct {
	player
	ctx    context.Context // ends when the server need no longer be talked to
	cancel context.CancelFunc
}

var _ Output = (*pulse)(nil)

func openPulse(changed func(error)) (Output, error) {
	ctx, cancel := context.WithCancel(context.Background())
	l, err := dial(ctx)
	if err != nil {
		cancel()
		return nil, err
	}
	o := &pulse{
		player: newPlayer(changed, requestFrames, 3*time.Millisecond, maxLead),
		ctx:    ctx, cancel: cancel,
	}
	o.few = fewAnswers
	go o.run(l)
	return o, nil
}

func (o *pulse) Name() string { return "pulse" }

func (o *pulse) Close() error {
	o.close()
	select {
	case <-o.stopped:
	case <-time.After(closeGrace):
	}
	o.cancel()
	<-o.stopped
	return nil
}

// run plays through l, and when l ends, through another.
func (o *pulse) run(l *link) {
	defer close(o.stopped)
	for again := false; ; again = true {
		err := o.serve(l, again)
		if _, closed := o.wanted(); closed {
			l.end(net.ErrClosed)
			return
		}
		l.end(err)
		o.report(err)
		for l = nil; l == nil; {
			if !o.pause(retry) {
				return
			}
			l, _ = dial(o.ctx) // why it is lost has been told
		}
	}
}

// serve does through l what is wanted, until it is to be closed (nil) or the
// sound is lost (why). With join, what sounds already is joined where it is.
func (o *pulse) serve(l *link, join bool) error {
	timer := time.NewTimer(0)
	defer timer.Stop()
	joined := 0
	if join {
		joined, _ = o.wanted()
	}
	var st *stream
	for {
		play, closed := o.wanted()
		if st != nil && st.play != play {
			if err := l.remove(st.index); err != nil {
				return err
			}
			st = nil
		}
		if closed {
			return nil
		}
		if st == nil && play != 0 {
			var err error
			if st, err = o.start(l, play, play == joined); err != nil {
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
