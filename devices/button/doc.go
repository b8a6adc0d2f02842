// Package button listens to the one button of a box without a screen.
//
// It is pressed by the free hand, perhaps with fingers that feel little, by
// somebody whose other arm may be tingling. So nothing hangs on skill: while a
// session runs any press stops it, as it begins and however long it is; there
// are no double presses; and the only other difference is between a short
// press and one held for 2 s. What is in doubt stops or eases.
//
// The way of a press, a file each: Debounce makes presses of levels; State.Means
// says what they mean; Button wires both to a pin and to a session. The first
// two know no clock and no pin.
package button
