package diary

import (
	"cmp"
	"context"
	"fmt"
	"slices"
	"sync"
	"time"
)

// retryPause is the wait before a failed write is tried again.
const retryPause = 5 * time.Second

// Recorder writes one session into the diary while it runs. Only
// [Options.Record], [Recorder.Flush] and [Recorder.Close] wait for the disk.
//
// What cannot be written is kept in order and tried again every few seconds, and
// once more at the end.
type Recorder struct {
	options Options
	path    string
	trouble func(error)
	once    sync.Once // for trouble

	mu      sync.Mutex
	session Session        // all that is known, written or not
	pending []func() error // writes to come, in order
	err     error          // of the last try
	gone    error          // why all that was written is lost

	wake    chan struct{} // there is more to write
	tried   chan struct{} // closed after the first try
	closing chan struct{} // closed by stop
	stop    func()        // called by Close, perhaps twice
	done    chan struct{} // closed when nothing more will be written

	// of the writing goroutine alone
	d   *Diary
	run *Running
}

// Record begins a session in the diary at path, and makes the diary if there is
// none. It returns once the session is committed, the diary fails, or patience
// has passed: the session can go on in any case.
//
// trouble is called once, perhaps from another goroutine, when something cannot
// be written for the first time. [Recorder.Close] says whether it was written in
// the end.
func (o Options) Record(path string, s Session, patience time.Duration, trouble func(error)) *Recorder {
	s.complete()
	s.Events = s.opening()
	r := &Recorder{
		options: o, path: path, trouble: trouble, session: s,
		wake: make(chan struct{}, 1), tried: make(chan struct{}),
		closing: make(chan struct{}), done: make(chan struct{}),
	}
	r.stop = sync.OnceFunc(func() { close(r.closing) })
	r.pending = []func() error{func() error { return r.begin(s) }}
	go r.write()
	select {
	case <-r.tried:
	case <-time.After(patience):
		r.report(r.silent())
	}
	return r
}

func (r *Recorder) silent() error {
	return fmt.Errorf("diary %s: the disk or another program keeps it from answering", r.path)
}

// Session returns what is known of the session, whether written or not.
func (r *Recorder) Session() Session {
	r.mu.Lock()
	defer r.mu.Unlock()
	s := r.session
	s.Events = slices.Clone(s.Events)
	s.gather(s.Events, nil)
	return s
}

// Event records an event. It may come after the end, as ratings do.
func (r *Recorder) Event(e Event) {
	r.put(func() error { return r.committed(r.run.Event(e), e) }, func(s *Session) { s.add(e) })
}

// End records the end of the session.
func (r *Recorder) End(e Ending) {
	r.put(func() error { return r.committed(r.run.End(e), e.event()) }, func(s *Session) { s.end(e) })
}

// committed passes on events that were written, unless err says that they were
// not, and returns err.
func (r *Recorder) committed(err error, events ...Event) error {
	if err == nil && r.options.Committed != nil {
		for _, e := range events {
			r.options.Committed(e)
		}
	}
	return err
}

// Flush waits until all that was recorded before is on the disk. If ctx is done
// first, it returns its error. So a person is asked nothing more about a session
// before its end is safe. It must not be called after Close.
func (r *Recorder) Flush(ctx context.Context) error {
	written := make(chan struct{})
	r.put(func() error { close(written); return nil }, func(*Session) {})
	select {
	case <-written:
		return nil
	case <-ctx.Done():
		return ctx.Err()
	}
}

func (r *Recorder) put(write func() error, note func(*Session)) {
	r.mu.Lock()
	defer r.mu.Unlock()
	note(&r.session)
	r.pending = append(r.pending, write)
	select {
	case r.wake <- struct{}{}:
	default:
	}
}

// UnwrittenError says that a session is not, or not wholly, in the diary.
type UnwrittenError struct {
	Session Session // all that is known of it, to write down by hand
	Err     error   // why
}

func (e *UnwrittenError) Error() string {
	return fmt.Sprintf("this session is not wholly in the diary: %v", e.Err)
}

func (e *UnwrittenError) Unwrap() error { return e.Err }

// Close tries once more to write what is left, closes the diary, and waits for
// that until ctx is done. If something is still not written, or the
// diary is gone with what was, the error is an [*UnwrittenError]. A session that was given no end reads
// [sessions.Interrupted] when the diary is opened the next time.
func (r *Recorder) Close(ctx context.Context) error {
	r.stop()
	select {
	case <-r.done:
	case <-ctx.Done():
	}
	s := r.Session()
	r.mu.Lock()
	defer r.mu.Unlock()
	if len(r.pending) == 0 && r.gone == nil {
		return nil
	}
	err := cmp.Or(r.err, r.gone)
	if err == nil {
		err = r.silent()
	}
	return &UnwrittenError{s, err}
}

// write is the writing goroutine.
func (r *Recorder) write() {
	defer close(r.done)
	err := r.flush()
	r.report(err)
	close(r.tried)
	for {
		wake, retry := r.wake, (<-chan time.Time)(nil)
		if err != nil {
			wake, retry = nil, time.After(retryPause)
		}
		select {
		case <-wake:
		case <-retry:
		case <-r.closing:
			r.flush()
			if r.run != nil {
				r.run.Leave()
			}
			if r.d != nil {
				r.mu.Lock()
				r.gone = r.d.gone()
				r.mu.Unlock()
				r.d.Close()
			}
			return
		}
		err = r.flush()
		r.report(err)
	}
}

// flush writes what is pending until there is no more or a write fails.
func (r *Recorder) flush() (err error) {
	for {
		r.mu.Lock()
		r.err = err
		if err != nil || len(r.pending) == 0 {
			r.mu.Unlock()
			return err
		}
		next := r.pending[0]
		r.mu.Unlock()
		if err = next(); err == nil {
			r.mu.Lock()
			r.pending = r.pending[1:]
			r.mu.Unlock()
		}
	}
}

func (r *Recorder) begin(s Session) (err error) {
	if r.d == nil {
		if r.d, err = r.options.Open(r.path); err != nil {
			return err
		}
	}
	if r.run, err = r.d.Begin(&s); err != nil {
		return err
	}
	r.mu.Lock()
	r.session.Number, r.session.Diary, r.session.Place = s.Number, s.Diary, s.Place
	copy(r.session.Events, s.opening()) // now with the number
	r.mu.Unlock()
	return r.committed(nil, s.opening()...)
}

func (r *Recorder) report(err error) {
	if err != nil {
		r.once.Do(func() { r.trouble(err) })
	}
}
