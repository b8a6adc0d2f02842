// Package voice decides what is said in a session, and when. It opens no device
// and no file; package sounds/clips makes the clips.
//
// # From a timeline to words
//
// A Language has the texts, in a file beside this one. From them and a timeline
// come phrases: what could be said in each step, in several ways, the fullest
// first. A Voice has the clips, one for each cue, each with its length. Schedule
// then picks the fullest way that ends before its step does, or none. So a word
// starts with its step, no word runs into another, and a session too fast for
// words loses words, never the beat. It all depends on timeline and clips alone.
//
// In a paced step the movement comes first, then how far, the number or a
// remark, and the breath. What says what to do now is over in the first half of
// the step; if there is no time it is said in a shorter way, and everything else
// gives way to the movement. Posture, start position and cautions are told only
// in steps with a free breath.
//
// # What is never said
//
// The pause at an end of the movement and the turn of the breath have no word: a
// word would turn them into a hold.
package voice
