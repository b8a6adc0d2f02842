// Package pacer lays a session out in time and conducts it.
//
// New turns what a session file prescribes into a Timeline: steps that follow
// one another without a gap, each with what the breath does and what the arm
// does in it. The two run side by side because different things follow them:
// tones and buzzer the breath, screen and voice the movement.
//
// A timeline is pure: the same session gives the same steps, with no clock and
// no file. Whatever shows, sounds, writes or draws a session reads the same
// one, so live sound and a rendered file agree to the sample. Onsets are sums
// of durations in full precision and are rounded once, where they are used
// (Step.Onset, Frame), so that nothing drifts.
//
// A timeline is never changed. Stopping is at once, in mid-step; going on is a
// new timeline from 0 (Timeline.GoOn, Timeline.Enough).
//
// What the values of a file add up to is held against hard limits, which New
// refuses to cross, and bounds of comfort, for which Cautions gives the
// reason. Both point to the field of the file that is to be changed.
//
// Conductor runs timelines: it waits for the moment at which each step is
// heard, counts what is done, and tells its followers, none of which can
// delay another.
package pacer
