// Package buzzer paces a session by touch: a small vibration motor under a
// strap tells when to breathe in and move, when to breathe out and when the
// movement turns.
//
// A [Pattern] is a few pulses. Patterns differ in rhythm and in whether the strength
// rises or falls, never in strength alone, because a strap can be loose and skin can
// feel little:
//
//	inhale             two pulses, soft then strong: it rises
//	exhale             two pulses, strong then soft: it falls
//	out on the exhale  one pulse that falls
//	out on the inhale  one pulse that rises
//	turn               two short taps
//	rest               three soft pulses, slow and even
//	done               four long slow pulses, two strong and two soft: it dies away
//	stop               one long even buzz
//	cannot start       five quick taps: a stutter
//
// In a set one pulse sends the arm out and two bring it back. At rest, where a breath
// begins and nothing moves, there are two.
//
// Nothing repeats by itself or lasts longer than a second and a half, so that nobody
// takes it for a phone. The brief pause of breath and movement has no pattern: a buzz
// there might seem to ask for a hold.
//
// A [Buzzer] follows a session. It starts each pattern before its moment is heard, by
// the time that the motor takes to be felt (its lead). Between it and the [Motor]
// stands a guard that switches off whatever happens above it.
package buzzer
