//go:build unix

package program

import (
	"errors"
	"os"
	"syscall"
)

var ownGroup = &syscall.SysProcAttr{Setpgid: true}

// group is a program with all that it has started, by the id of the program.
type group int

func newGroup(p *os.Process) group { return group(p.Pid) }

func (g group) signal(s syscall.Signal) error {
	err := syscall.Kill(-int(g), s)
	if errors.Is(err, syscall.ESRCH) {
		return os.ErrProcessDone
	}
	return err
}

func (g group) kill() error { return g.signal(syscall.SIGKILL) }

// end kills what the program has left running. Its id is free by now, but has not had
// the time to be given to another.
func (g group) end() { g.kill() }

// Terminate asks the program, and all that it has started, to end.
func (p *Program) Terminate() error {
	<-p.begun
	return p.group.signal(syscall.SIGTERM)
}
