// Package program runs other people's programs: ffmpeg, espeak-ng, aplay.
package program

import (
	"context"
	"os/exec"
	"time"

	"glidepace/sessions/plaintext"
)

// Installed reports whether there is a program of this name.
func Installed(name string) bool {
	_, err := exec.LookPath(name)
	return err == nil
}

// Program is another program, started and waited for as in package exec.
type Program struct {
	*exec.Cmd
	said tail
}

// New returns a program that is killed when ctx ends. Ctrl-C at the terminal does
// not reach it, because we decide when it ends.
func New(ctx context.Context, name string, args ...string) *Program {
	p := &Program{Cmd: exec.CommandContext(ctx, name, args...)}
	p.SysProcAttr = ownGroup
	p.WaitDelay = time.Second // for what it has started and left behind
	p.Stderr = &p.said
	return p
}

// Said returns the end of its standard error in one plain line, once it has ended.
func (p *Program) Said() string { return plaintext.Said(string(p.said)) }

// tail keeps the end of what is written to it.
type tail []byte

func (t *tail) Write(b []byte) (int, error) {
	const most = 1000
	*t = append(*t, b...)
	*t = (*t)[max(0, len(*t)-most):]
	return len(b), nil
}
