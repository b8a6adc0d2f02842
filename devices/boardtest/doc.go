// Package boardtest runs a program on a real Linux kernel with simulated GPIO
// lines, in an emulated computer, for tests without a board.
//
// All of it has the build tag real. It needs qemu-system-aarch64 and xz, apt and
// dpkg to get the kernel, and for disks mkfs.vfat, mkfs.ext4 and mcopy (Debian:
// qemu-system-arm, xz-utils, dosfstools, e2fsprogs, mtools). A test fails where
// they are missing.
//
// # The machine
//
// A Machine boots a Debian kernel for arm64 with two programs in its memory: guest,
// the first process, and a static build of the program under test. Its GPIO chip
// looks like a Raspberry Pi's: label, line names, pulls, and the second name that is
// a trap for some programs. Guest starts the program, does the plan's steps (press a
// button, send a signal, set the clock), and at the end reports what the kernel saw.
// The program's input is /dev/null and its output a pipe, as under a service manager.
//
//	r := boardtest.Machine{
//		Program: "glidepace/cmd/glidepace",
//		Files:   map[string][]byte{"/box.yaml": box},
//		Plan: boardtest.Plan{
//			Args: []string{"box", "run", "/box.yaml"},
//			Steps: []boardtest.Step{
//				{On: "^ready", After: time.Second, Low: "GPIO27"},
//				{After: 2 * time.Second, Signal: "KILL"},
//			},
//		},
//	}.Run(t)
//	edges, off := r.Changes(17), r.Released(17)
//
// A board without a battery clock is Kernel: "initcall_blacklist=pl031_driver_init".
// Its clock begins in 1970, and there is no /dev/rtc0.
//
// A button is nothing but the line's pull: a program that asks for a pull-up undoes a
// press that is under way.
//
// # A whole system
//
// NewSystem gives a disk with Debian and systemd, and Boot boots it, with the same
// chip and with a card as a second disk. A root's shell then does what the test says.
// Power cuts are as below. The system is made once, by root, with mmdebstrap (Debian:
// mmdebstrap, arch-test, qemu-user-static), and kept in the cache.
//
// # Time
//
// The machine's clock counts instructions, 2 ns each, and jumps while the machine
// waits: a busy host delays nothing in it, and 20 minutes of waiting take less than
// a second. So moments are the same from run to run to some hundredths of a
// millisecond, and processor time is a count of instructions. What a board's caches,
// other programs and interrupts add is missing. A machine with a disk follows the
// host's clock, as the host's disk does.
//
// Edges, requests, steps and the program's lines all carry CLOCK_MONOTONIC. The
// kernel notes edges and requests itself. A line's moment is when guest read it, up
// to a millisecond after the program printed it. To compare edges with a timeline
// that the program starts, take the first edge as the start, and compare it with the
// line that the program prints then.
//
// # Power cuts
//
// Cut kills the emulator, so the machine's memory is lost, and with it what the
// program or the kernel had not yet written to the disk. What had reached the disk
// stays, flushed or not, as the host keeps it: a memory card that loses or tears
// what it has accepted is not shown. Boot again with the same disk to see what is
// there; the kernel mends the file system as it would on a board.
//
// CutInto copies the disk as Cut would have left it, and the machine goes on. So
// one boot gives as many cuts as are wanted.
package boardtest
