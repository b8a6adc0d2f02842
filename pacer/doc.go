// Package pacer lays a session out in time and conducts it.
//
// New turns a session file into a Timeline: steps without gaps, each with what
// the breath does and what the arm does. The two run side by side because
// different things follow them: tones and buzzer follow the breath, screen and
// voice the movement.
//
// A timeline is pure: the same session gives the same steps, with no clock and
// no file. Everything that shows, plays, writes or draws a session reads the same
// timeline, so live sound and a rendered file agree to the sample. Onsets are
// sums of durations in full precision, rounded once where they are used
// (Step.Onset, Frame), so that nothing drifts.
//
// A timeline never changes. A stop takes effect at once, in the middle of a step;
// going on is a new timeline from 0 (Timeline.GoOn, Timeline.Enough).
//
// What a file adds up to has hard limits, which New enforces, and bounds of
// comfort, for which Cautions gives the reason. Both point to the field of the
// file that should change.
//
// Conductor runs timelines: it waits until each step is heard, counts what is
// done, and tells its followers. None of them can delay another.
package pacer
