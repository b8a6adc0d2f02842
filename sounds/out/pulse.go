package out

import (
	"context"
	"net"
	"sync"
	"time"

	"github.com/gopxl/beep/v2"
)

const (
	retry      = time.Second            // between attempts to find a server again
	maxLead    = 50 * time.Millisecond  // to be expected from Play to the first frame
	closeGrace = 200 * time.Millisecond // for the server to be told of the end
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
	wake    chan struct{} // gets a token when what is wanted has changed

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

func openPulse(changed func(error)) (Output, error) {
	ctx, cancel := context.WithCancel(context.Background())
	l, err := dial(ctx)
	if err != nil {
		cancel()
		return nil, err
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

// pause waits for d. It reports false if the output has been closed.
func (o *pulse) pause(d time.Duration) bool {
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

// wanted returns the Play that is to sound, 0 if none, and whether the output
// is to be closed.
func (o *pulse) wanted() (play int, closed bool) {
	o.mu.Lock()
	defer o.mu.Unlock()
	if o.src != nil {
		play = o.plays
	}
	return play, o.closed
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
