// Package voice makes the words of a session: what is said, and when. It opens
// no device and no file; package sounds/clips says where the clips come from.
//
// # From a timeline to words
//
// A Language has the texts, from a file beside this one. From them and a
// timeline come phrases: for each step what could be said in it, in several
// ways, the fullest first. A Voice has the clips, one for each cue, each with
// its length. Schedule then decides which way is said: the fullest that ends
// before its step does, or none. So a word starts with the step it belongs to,
// none runs into another, and a session too fast for words loses words, never
// the beat. All of it is a pure function of timeline and clips.
//
// In a step that is paced the movement comes first, then how far, the number or
// a remark, and the breath. What says what to do now is over in the first half
// of its step, or is said in a shorter way; what has no time gives way to the
// movement. What is told at leisure, such as posture, start position and
// cautions, is told in steps with a free breath alone.
//
// # What is never said
//
// The pause at an end of the movement and the turn of the breath have no word:
// a word would make a hold of them.
package voice
