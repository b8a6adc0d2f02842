//go:build unix

package program

import "syscall"

var ownGroup = &syscall.SysProcAttr{Setpgid: true}
