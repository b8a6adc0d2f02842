// Package program is for other programs that are run: ffmpeg, espeak-ng, aplay.
package program

import "os/exec"

// OwnGroup keeps Ctrl-C at the terminal from c, which is not started yet: when
// to end it is for us to say.
func OwnGroup(c *exec.Cmd) { c.SysProcAttr = ownGroup }
