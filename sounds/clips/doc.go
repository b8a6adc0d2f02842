// Package clips makes the clips of a voice: how each cue sounds.
//
// A clip is the clinic's own recording, in a file named after the cue, or else
// is spoken by espeak-ng, if that is installed. Either is brought to the
// loudness of the tones and kept in a cache.
package clips
