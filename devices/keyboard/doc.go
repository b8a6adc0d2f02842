// Package keyboard takes keys as they are pressed, without waiting for a line.
//
// [ReadKey] waits for one key, as the answer to a question. [Listen] passes on
// all of them, and [Steer] passes them on as the commands of a session. What
// draws in the whole window reads the keys itself, through a [Terminal], and
// takes their meaning from [CommandOf]: a key says the same everywhere.
//
// On a terminal line editing and echo are off meanwhile, and nothing else: what
// is written still gets its carriage returns, and Ctrl-C is still a signal. (On
// Windows Ctrl-C is read as a key, "\x03".) From anything else bytes are taken as
// they come.
package keyboard
