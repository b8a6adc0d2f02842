// Package sounds makes the sound of a session: tones that follow the breath
// and ticks at the turns of the movement. It opens no device; package
// sounds/out does.
//
// # What is heard
//
// Inhale and exhale are told apart by interval and timbre, not by a rising
// and a falling pitch, so that they can be told apart by who hears a pitch
// badly, and from any moment of them on. The inhale is hollow (a root with its
// third harmonic) and opens to a fifth; the exhale is lower and mellow (a root
// with a little of its second harmonic) and closes from a fourth. The loudness
// stays the same throughout: a sound that swells would ask for a deep breath.
// A tone lasts as long as the breath flows one way, through the turns of the
// movement if need be, and is silent while the breath turns.
//
// A short soft tick falls on the first sample of every step of a set. There
// is none in the lead-in, where nothing moves.
//
// Where the breath is free there is silence, but for one soft mark that says
// a set is over: at the start of a shake, and after the last set in the Tail.
//
// Nothing sounds like an alarm (IEC 60601-1-8: pulses of a fundamental with
// four or more harmonics): no more than three partials make a tone, one a
// tick, and tones come and go slowly.
//
// # Samples
//
// A Stream is data: a sample depends on its frame number and on nothing else,
// so a live run, whatever it is asked for at a time, and a file hold the same
// samples. A timeline first becomes a score, the tones and ticks with their
// first and last frames; a frame is then computed from what the score has at
// that frame. Onsets are rounded once, from seconds to the nearest frame.
package sounds
