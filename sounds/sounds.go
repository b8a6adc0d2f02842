// Package sounds makes the sound of a session as data. It opens no device;
// package sounds/out does.
//
// # What is heard
//
// A tone rises by a major third over an inhale and falls by one over an exhale,
// so its pitch says where in the breath you are. Root and partials glide
// together, and none crosses 500 Hz: the direction is heard through a small
// speaker, and by an ear that hears little above 2 kHz. For people who hear
// pitch badly, or listen only for a moment, interval and timbre differ too: the
// inhale is a fifth over a hollow root (with its third harmonic), the exhale a
// fourth over a mellow one (with a little of its second harmonic). The loudness
// stays the same, because a sound that swells would ask for a deep breath. A
// tone lasts as long as the breath flows one way, even through a turn of the
// movement, and is silent while the breath turns.
//
// Short soft ticks say where the movement goes: one on the first sample of a
// glide out, two of a return, 90 ms apart. Where nothing begins to move there is
// none: in the lead-in, in the first inhale of a set, and in the brief pause,
// which a tick would turn into a hold.
//
// Where the breath is free there is silence, except for one soft mark that says
// a set is over: at the start of a shake, and after the last set, in the Tail.
//
// Nothing sounds like an alarm (IEC 60601-1-8: pulses of a fundamental with
// four or more harmonics): a tone has at most three partials and a tick one,
// and tones come and go slowly.
//
// # Samples
//
// A sample depends on its frame number and on nothing else, so a live run and a
// file hold the same samples, in whatever pieces they are asked for. A timeline
// first becomes a score: tones, ticks and words with their first and last
// frames. Each frame is then computed from what the score has there. Onsets are
// rounded once, from seconds to the nearest frame.
package sounds
