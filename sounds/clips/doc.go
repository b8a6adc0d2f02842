// Package clips makes the clips of a voice. A cue is something to say; a clip is how
// it sounds.
//
// A clip is the clinic's own recording, in a file named after the cue, or else
// is spoken by espeak-ng, if that is installed. Either is brought to the
// loudness of the tones and kept in a cache.
package clips
