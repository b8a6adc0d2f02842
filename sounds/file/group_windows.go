package file

import "syscall"

// ownGroup keeps Ctrl-C in the console from a program that is started: when to
// end it is for the context to say.
var ownGroup = &syscall.SysProcAttr{CreationFlags: syscall.CREATE_NEW_PROCESS_GROUP}
