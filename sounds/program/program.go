// Package program runs other people's programs: ffmpeg, espeak-ng, aplay.
//
// None of them is trusted to end, or to write no more than it should: each has limits,
// and whatever it has started ends with it.
package program

import (
	"context"
	"fmt"
	"io"
	"os"
	"os/exec"
	"sync/atomic"
	"time"

	"glidepace/sessions/plaintext"
)

// Installed reports whether there is a program of this name.
func Installed(name string) bool {
	_, err := exec.LookPath(name)
	return err == nil
}

// Limits of a program. One that goes beyond them is ended.
type Limits struct {
	Time     time.Duration // without an end, and without reading what Input is given; 0 for any
	Output   int           // bytes of standard output
	File     string        // which it writes, "" for none
	FileSize int64         // bytes of that file
}

// Program is another program, started and waited for as in package exec.
type Program struct {
	*exec.Cmd
	limits Limits
	ctx    context.Context
	end    context.CancelCauseFunc
	group  group
	begun  chan struct{} // closed once there is a group
	ended  chan struct{}
	ticks  atomic.Int64 // of watch since it was last seen to read
	said   tail
}

// New returns a program that is killed when ctx ends, with all that it has started.
// Ctrl-C at the terminal does not reach it, because we decide when it ends.
func New(ctx context.Context, limits Limits, name string, args ...string) *Program {
	p := &Program{limits: limits, begun: make(chan struct{}), ended: make(chan struct{})}
	p.ctx, p.end = context.WithCancelCause(ctx)
	p.Cmd = exec.CommandContext(p.ctx, name, args...)
	p.SysProcAttr = ownGroup
	p.WaitDelay = time.Second // for its pipes to be closed
	p.Stderr = &p.said
	p.Cancel = func() error {
		<-p.begun
		return p.group.kill()
	}
	return p
}

// Start starts the program. Wait must follow.
func (p *Program) Start() error {
	if err := p.Cmd.Start(); err != nil {
		p.end(nil)
		return err
	}
	p.group = newGroup(p.Process)
	close(p.begun)
	go p.watch()
	return nil
}

// Wait waits for the end of the program, and ends what it has left running. The error
// is the limit that it broke, or the cause for which its context ended, or else has
// the end of what it said.
func (p *Program) Wait() error {
	err := p.Cmd.Wait()
	p.group.end()
	close(p.ended)
	defer p.end(nil)
	if p.ctx.Err() != nil {
		return context.Cause(p.ctx)
	}
	if said := p.Said(); err != nil && said != "" {
		err = fmt.Errorf("%w: %s", err, said)
	}
	return err
}

// Run starts the program and waits for it.
func (p *Program) Run() error {
	if err := p.Start(); err != nil {
		return err
	}
	return p.Wait()
}

// Output runs the program and returns its standard output.
func (p *Program) Output() ([]byte, error) {
	out := &output{p: p}
	p.Stdout = out
	err := p.Run()
	return out.bytes, err
}

// Input returns its standard input, which breaks when the program is ended. It is for
// before Start.
func (p *Program) Input() (io.WriteCloser, error) {
	pipe, err := p.StdinPipe()
	if err != nil {
		return nil, err
	}
	context.AfterFunc(p.ctx, func() { pipe.Close() })
	return input{pipe, p}, nil
}

// Said returns the end of its standard error in one plain line, once it has ended.
func (p *Program) Said() string { return plaintext.Said(string(p.said)) }

// watch ends a program that takes too long or writes too much into its file. It counts
// time by ticks: while this program is stopped too, as by Ctrl-Z, none come.
func (p *Program) watch() {
	const every = 50 * time.Millisecond
	tick := time.NewTicker(every)
	defer tick.Stop()
	for {
		select {
		case <-p.ended:
			return
		case <-tick.C:
		}
		if waited := time.Duration(p.ticks.Add(1)) * every; p.limits.Time > 0 && waited > p.limits.Time {
			p.end(fmt.Errorf("no answer in %v", p.limits.Time))
		}
		if info, err := os.Stat(p.limits.File); err == nil && info.Size() > p.limits.FileSize {
			p.end(tooMuch(p.limits.FileSize))
		}
	}
}

func tooMuch(limit int64) error {
	return fmt.Errorf("it writes more than the %d kB that it should need", limit>>10)
}

// output keeps what a program writes, up to its limit.
type output struct {
	p     *Program
	bytes []byte
}

func (o *output) Write(b []byte) (int, error) {
	if len(o.bytes)+len(b) > o.p.limits.Output {
		err := tooMuch(int64(o.p.limits.Output))
		o.p.end(err)
		return 0, err
	}
	o.bytes = append(o.bytes, b...)
	return len(b), nil
}

// input notes that a program reads.
type input struct {
	io.WriteCloser
	p *Program
}

func (i input) Write(b []byte) (int, error) {
	n, err := i.WriteCloser.Write(b)
	i.p.ticks.Store(0)
	return n, err
}

// tail keeps the end of what is written to it.
type tail []byte

func (t *tail) Write(b []byte) (int, error) {
	const most = 2000
	*t = append(*t, b[max(0, len(b)-most):]...)
	*t = (*t)[max(0, len(*t)-most):]
	return len(b), nil
}
