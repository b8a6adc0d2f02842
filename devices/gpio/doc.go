// Package gpio opens the pins of a board by name ("GPIO17"), through the
// kernel's GPIO character device. That works on every board whose kernel names
// its lines; on other systems than Linux opening a pin is an error.
//
// An [Output] is a pin that is switched, an [Input] one whose edges are watched. Both
// release their line after any error and take it again at the next use, so a line that
// was busy for a moment comes back by itself.
//
// Outputs are active high only: taking a line and closing it drives it low. A motor or
// lamp wired the other way round would then be on.
//
// However the process ends, the kernel releases its lines. What the pin does then is up
// to the chip's driver, and a process that was killed has not driven it low. Either the
// pin becomes an input again and follows the board's pull; or it stays as it was, if the
// module parameter persist_gpio_outputs is on. A simulated chip always falls back to
// its pull; only a real board shows what it does. Opening the line as an output and
// closing it leaves it low in either case.
//
// Only periph's gpioioctl is used. periph's host package and its sysfs driver would
// register other pins under the same names. The library's traps are explained where
// they are avoided.
package gpio
