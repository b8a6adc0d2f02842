package out

import (
	"context"
	"time"
)

const (
	pulseLead    = 3 * time.Millisecond   // from Play to the first frame, until it is known
	pulseMaxLead = 50 * time.Millisecond  // the longest to expect
	closeGrace   = 200 * time.Millisecond // for the server to hear of the end
)

// pulse is the Output through a PulseAudio or PipeWire server.
//
// Every Play makes a new stream at the server, whose position counts from 0,
// and removes the one before. So an answer, a request or a sample can only
// belong to the right stream, and a pause is simply "no stream".
//
// One goroutine talks to the server.
type pulse struct {
	player
	ctx    context.Context // ends when the server need no longer be talked to
	cancel context.CancelFunc
	link   *link // the goroutine's alone
}

var _ Output = (*pulse)(nil)

func openPulse(changed func(error)) (Output, error) {
	o := &pulse{player: newPlayer(changed, requestFrames, pulseLead, pulseMaxLead)}
	o.few = fewAnswers
	o.ctx, o.cancel = context.WithCancel(context.Background())
	if err := o.dial(); err != nil {
		o.cancel()
		return nil, err
	}
	go o.run(func(joined int) error {
		err := o.serve(joined)
		o.link.end(err)
		return err
	}, o.dial)
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

func (o *pulse) dial() (err error) {
	o.link, err = dial(o.ctx)
	return err
}

// serve is for run.
func (o *pulse) serve(joined int) error {
	timer := time.NewTimer(0)
	defer timer.Stop()
	var st *stream
	for {
		play, closed := o.wanted()
		if st != nil && st.play != play {
			if err := o.link.remove(st.index); err != nil {
				return err
			}
			st = nil
		}
		if closed {
			return nil
		}
		if st == nil && play != 0 {
			var err error
			if st, err = o.start(play, play == joined); err != nil {
				return err
			}
		}
		var due <-chan time.Time
		if st == nil {
			o.report(nil)
		} else if err := o.tend(st); err != nil {
			return err
		} else {
			timer.Reset(time.Until(st.nextAsk))
			due = timer.C
		}
		select {
		case <-o.wake:
		case <-o.link.wake:
		case <-o.link.ctx.Done():
			return o.link.why()
		case <-due:
		}
	}
}
