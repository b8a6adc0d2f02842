//go:build linux

package out

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"os"
	"regexp"
	"strconv"
	"strings"
	"sync"
	"time"

	"golang.org/x/sys/unix"

	"glidepace/sessions/plaintext"
	"glidepace/sounds"
	"glidepace/sounds/program"
)

const (
	// aplay's buffer, and how much it reads and writes at a time. A device may
	// choose something near these, which is part of the constant error of Heard.
	bufferFrames = int(sounds.SampleRate) * 100 / 1000
	periodFrames = int(sounds.SampleRate) * 25 / 1000

	pipeBytes = 4096 // the least that Linux gives

	fewLate = 3 // answers that must agree that there was a gap

	aplayLead    = 20 * time.Millisecond   // from Play to the first frame, until it is known
	aplayMaxLead = 500 * time.Millisecond  // the longest to expect
	probeTimeout = 2 * time.Second         // for a device to open and play a little
	stuck        = 1500 * time.Millisecond // without taking any sound: it is lost
	killAfter    = 250 * time.Millisecond  // a process that ignores SIGTERM
	unkillable   = 2 * time.Second         // after Close, a process that the kernel holds on to
)

// aplay is the Output through the program aplay, which plays what it reads from
// a pipe.
//
// Every Play runs a new process, and ending the process makes silence: nothing
// that waits in the pipe or in the device is heard after Hush. The next process
// begins when the last has gone, because many devices can be opened only once.
//
// One goroutine starts and ends the processes; while one runs, a second
// goroutine feeds it.
type aplay struct {
	player
	ctx    context.Context // ends all processes
	cancel context.CancelFunc
}

var _ Output = (*aplay)(nil)

func openAplay(changed func(error)) (Output, error) {
	if !program.Installed("aplay") {
		return nil, errors.New("aplay: it is not installed (the package is mostly called alsa-utils)")
	}
	o := &aplay{player: newPlayer(changed, pipeBytes/bytesPerFrame, aplayLead, aplayMaxLead)}
	o.ctx, o.cancel = context.WithCancel(context.Background())
	if err := o.probe(); err != nil {
		o.cancel()
		return nil, fmt.Errorf("aplay: %w (connect a sound card that aplay -l lists)", err)
	}
	go o.run(o.serve, o.probe)
	return o, nil
}

func (o *aplay) Name() string { return "aplay" }

func (o *aplay) Close() error {
	o.close()
	o.cancel()
	select {
	case <-o.stopped:
		return nil
	case <-time.After(unkillable):
		return errors.New("aplay does not end")
	}
}

// serve is for run.
func (o *aplay) serve(joined int) error {
	for {
		play, closed := o.wanted()
		switch {
		case closed:
			return nil
		case play == 0:
			o.report(nil)
			<-o.wake
		default:
			if err := o.play(play, play == joined); err != nil {
				return err
			}
		}
	}
}

// play plays one Play until it has been heard or is no longer wanted (nil), or
// the sound is lost (why). With join, it joins where the Play is by now.
func (o *aplay) play(play int, join bool) error {
	p, err := o.start()
	if err != nil {
		return err
	}
	f := &feed{play: play, joining: join, joined: join}
	fed := make(chan error, 1)
	go func() { fed <- o.feed(p, f) }()
	for {
		select {
		case err := <-fed:
			p.end()
			if err == nil {
				o.finish(f)
			}
			return err
		case <-o.wake:
			if now, _ := o.wanted(); now != play {
				p.end()
				<-fed
				return nil
			}
		}
	}
}

// feed sends f to a process, to its end, and waits until it has been heard. It
// returns why the sound is lost.
func (o *aplay) feed(p *process, f *feed) error {
	o.fit.restart()
	if !f.joining {
		o.seek(f, 0)
	}
	for {
		fs := o.frames[:o.pull(f, o.frames)]
		if len(fs) == 0 {
			break
		}
		p.pipe.SetWriteDeadline(time.Now().Add(stuck))
		if _, err := p.pipe.Write(pack(o.bytes, fs)); errors.Is(err, os.ErrDeadlineExceeded) {
			return errors.New("aplay takes no more sound")
		} else if err != nil {
			<-p.gone
			return p.why()
		}
		f.sent += len(fs)
		o.follow(p, f, time.Now())
	}
	p.pipe.Close()
	select {
	case <-p.gone:
	case <-time.After(time.Until(o.Heard(f.sent+f.offset)) + stuck):
	}
	return nil
}

// follow learns from the moment at which a write to a process has ended.
//
// By then the process has read everything but what the pipe holds. Of that it
// has given the device all but one period, and the device has played all but
// its buffer. So frame sent - held has been heard. It was heard somewhat before
// that moment if the pipe's pieces and the device's did not fall together. How
// much differs from write to write, in a pattern of a second or two, so later
// on each answer is the best of several writes.
func (o *aplay) follow(p *process, f *feed, now time.Time) {
	// The buffer ran dry if aplay says so, or if no device can have held enough.
	dry := now.Sub(p.wrote) > sounds.SampleRate.D(p.held)
	p.wrote = now
	if p.says.take() || dry {
		o.forget(f)
		p.best = line{}
	}
	frame := float64(f.sent - p.held)
	if frame < 0 {
		return
	}
	if p.best.at.IsZero() || p.best.heard(frame).After(now) {
		p.best = nominal(now, frame)
	}
	if f.answers >= quickAsks && now.Before(p.nextAnswer) {
		return
	}
	p.nextAnswer = nextSlowly(now)
	// Some of ALSA's devices, such as PulseAudio's, run dry without a word.
	if len(o.fit.points) > 0 && p.best.at.Sub(o.fit.line().heard(p.best.frame)) > sounds.SampleRate.D(periodFrames) {
		p.late++
	} else {
		p.late = 0
	}
	if p.late == fewLate {
		o.forget(f)
	}
	o.learn(f, p.best.frame, p.best.at)
	p.best = line{}
	if !f.joining {
		o.report(nil)
	}
}

// A process is a running aplay.
type process struct {
	pipe *os.File
	held int                // frames between what is written and what is heard
	stop context.CancelFunc // silences it at once
	gone chan struct{}      // closed when it has ended
	cmd  *program.Program
	says says

	// Used by feed alone.
	wrote      time.Time // when the last write ended
	best       line      // the earliest of the writes since the last answer
	nextAnswer time.Time
	late       int // answers in a row that only a gap can have made so late
}

// command returns aplay, ready to be started. When ctx ends it is silenced.
func command(ctx context.Context) *program.Program {
	c := program.New(ctx, program.Limits{}, "aplay", "-q", "-t", "raw", "-f", "S16_LE",
		"-r", strconv.Itoa(int(sounds.SampleRate)), "-c", "2", "--buffer-time=100000", "--period-time=25000", "-")
	c.Cancel = c.Terminate
	c.WaitDelay = killAfter
	return c
}

func (o *aplay) start() (*process, error) {
	r, w, err := os.Pipe()
	if err != nil {
		return nil, err
	}
	defer r.Close()
	size, err := unix.FcntlInt(r.Fd(), unix.F_SETPIPE_SZ, pipeBytes)
	if err != nil {
		w.Close()
		return nil, fmt.Errorf("the pipe to aplay: %w", err)
	}
	ctx, stop := context.WithCancel(o.ctx)
	p := &process{
		pipe: w,
		held: size/bytesPerFrame + bufferFrames + periodFrames,
		stop: stop,
		gone: make(chan struct{}),
		cmd:  command(ctx),
	}
	p.cmd.Stdin, p.cmd.Stderr = r, &p.says
	terminate := p.cmd.Cancel
	p.cmd.Cancel = func() error {
		err := terminate()
		w.Close() // frees the writer, and aplay, which would read on
		return err
	}
	if err := p.cmd.Start(); err != nil {
		w.Close()
		stop()
		return nil, err
	}
	p.wrote = time.Now()
	go func() {
		p.cmd.Wait()
		w.Close()
		stop()
		close(p.gone)
	}()
	return p, nil
}

// end silences the process and waits until it has gone.
func (p *process) end() {
	p.stop()
	<-p.gone
}

// why returns why the process has gone.
func (p *process) why() error {
	if line := p.says.first(); line != "" {
		return fmt.Errorf("aplay has ended: %s", line)
	}
	return fmt.Errorf("aplay has ended: %v", p.cmd.ProcessState)
}

// probe plays a little silence. It returns what prevents sound.
func (o *aplay) probe() error {
	ctx, cancel := context.WithTimeout(o.ctx, probeTimeout)
	defer cancel()
	c := command(ctx)
	var says says
	c.Stdin = bytes.NewReader(make([]byte, sounds.SampleRate.N(10*time.Millisecond)*bytesPerFrame))
	c.Stderr = &says
	err := c.Run()
	switch line := says.first(); {
	case err == nil:
		return nil
	case ctx.Err() != nil:
		return errors.New("the device does not play")
	case line != "":
		return errors.New(line)
	}
	return err
}

// says collects what an aplay writes to its standard error.
type says struct {
	mu   sync.Mutex
	news bool
	text []byte
}

func (s *says) Write(b []byte) (int, error) {
	s.mu.Lock()
	defer s.mu.Unlock()
	s.news = true
	for line := range bytes.Lines(b) {
		gap := bytes.Contains(line, []byte("!!!")) // its buffer ran dry, in any language
		if !gap && len(s.text) < 1000 {            // enough for the first line
			s.text = append(s.text, line...)
		}
	}
	return len(b), nil
}

// take reports whether anything has been said since the last call.
func (s *says) take() bool {
	s.mu.Lock()
	defer s.mu.Unlock()
	news := s.news
	s.news = false
	return news
}

// inSource is the place in ALSA's source with which a message begins.
var inSource = regexp.MustCompile(`^(ALSA lib \S+:\d+:|aplay: \w+:\d+: )(\(\w+\) )?`)

// first returns the first line that is not about a gap. Where one failure makes
// several lines, the first has the cause.
func (s *says) first() string {
	s.mu.Lock()
	defer s.mu.Unlock()
	line, _, _ := strings.Cut(string(bytes.TrimSpace(s.text)), "\n")
	return plaintext.Said(inSource.ReplaceAllString(line, ""))
}
