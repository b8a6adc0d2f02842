package program

import (
	"os"
	"syscall"

	"golang.org/x/sys/windows"
)

var ownGroup = &syscall.SysProcAttr{CreationFlags: syscall.CREATE_NEW_PROCESS_GROUP}

// group is a job: a program with all that it starts.
type group windows.Handle

// newGroup returns 0 where the program cannot be put into a job, as when it has ended.
func newGroup(p *os.Process) group {
	process, err := windows.OpenProcess(windows.PROCESS_SET_QUOTA|windows.PROCESS_TERMINATE, false, uint32(p.Pid))
	if err != nil {
		return 0
	}
	defer windows.CloseHandle(process)
	job, err := windows.CreateJobObject(nil, nil)
	if err != nil {
		return 0
	}
	if err := windows.AssignProcessToJobObject(job, process); err != nil {
		windows.CloseHandle(job)
		return 0
	}
	return group(job)
}

func (g group) kill() error {
	if g == 0 {
		return os.ErrProcessDone
	}
	return windows.TerminateJobObject(windows.Handle(g), 1)
}

// end kills what the program has left running.
func (g group) end() {
	if g != 0 {
		g.kill()
		windows.CloseHandle(windows.Handle(g))
	}
}
