// Package sounds makes the sound of a session: tones that follow the breath
// and ticks at the turns of the movement. It opens no device; package
// sounds/out does.
//
// # What is heard
//
// The whole tone rises by a major third over an inhale and falls by one over an
// exhale, so its pitch says where in the breath one is. Root and partials glide
// together, and none of them crosses 500 Hz: the direction is heard through a
// small speaker, and by an ear that hears little over 2 kHz. Who hears a pitch
// badly, or listens only for a moment, tells them apart by interval and timbre:
// the inhale is a fifth over a hollow root (with its third harmonic), the exhale
// a fourth over a mellow one (with a little of its second harmonic). The
// loudness stays the same throughout: a sound that swells would ask for a deep
// breath. A tone lasts as long as the breath flows one way, through the turns of
// the movement if need be, and is silent while the breath turns.
//
// Short soft ticks say where the movement goes: one on the first sample of a
// glide out, two of a return, 90 ms apart. There is none where nothing begins to
// move: in the lead-in, in the first inhale of a set, and in the brief pause,
// which a tick would make a hold. A tick is never cut off: a movement lasts 1 s
// or more.
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
