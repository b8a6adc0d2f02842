// Package gpio opens the pins of a board by name ("GPIO17"), through the
// kernel's GPIO character device. That works on every board whose kernel names
// its lines; on other systems than Linux opening a pin is an error.
//
// An [Output] is a pin that is switched, an [Input] one whose edges are
// watched. Both let go of their line after any error and take it again at the
// next use, so a line that was busy for a moment comes back by itself.
//
// Outputs are active high only: taking a line and closing it drive it low. A
// motor or lamp wired to be on at low would then be on.
//
// However the process ends, the kernel lets go of its lines. What the pin does
// then is not ours: a process that was killed has not driven it low, and the
// chip's driver makes it an input again, left to the board's pull, or keeps it
// as it was, where the module parameter persist_gpio_outputs is on. A simulated
// chip always falls back to its pull; only a real board shows which it is.
// Taking the line anew as an output and closing it has it low in either case.
//
// The package rests on periph's gpioioctl alone. periph's host package and its
// sysfs driver would put other pins of the same names in the way. What that
// library needs care about is said where it is taken care of.
package gpio
