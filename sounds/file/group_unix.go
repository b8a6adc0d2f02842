//go:build unix

package file

import "syscall"

// ownGroup keeps Ctrl-C on the terminal from a program that is started: when
// to end it is for the context to say.
var ownGroup = &syscall.SysProcAttr{Setpgid: true}
