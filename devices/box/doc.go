// Package box describes one box that a clinic lends, a small board that paces
// without a screen: its file, its wiring, its system service.
//
// A box file, box.yaml, says how one box is built. It lies in a folder with the
// session file and the diary, and is read as strictly as a session file. For a
// box that is wired as [File.Wiring] says by default, two lines are enough:
//
//	glidepace-box: 1              # version of the format
//	name: Box 3                   # what is written on the box, 1–40 characters
//
// Everything else has a default:
//
//	session: session.yaml         # seen from the folder of this file, as is
//	diary: diary.db               # the diary; neither may lie outside it
//	buzzer: {pin: GPIO17, lead: 30ms}  # lead: until the motor is felt, 0–100 ms
//	button: {pin: GPIO27}         # to ground; the chip's own pull-up is used
//	light: {pin: GPIO22}
//	sound: auto                   # auto, pulse, aplay, off
//	volume: 60                    # 0–100; without it the session file's
//	clock: none                   # none or battery: is a battery clock fitted?
//
// The three default pins stand side by side on the header, after a ground.
//
// Package loan, below, is how such a box goes to a patient and comes back.
package box
