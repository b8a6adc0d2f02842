// Package button listens to the one button of a box without a screen.
//
// It is pressed by the free hand, perhaps with fingers that feel little, by somebody
// whose other arm may be tingling. So no skill is needed: while a session runs any
// press stops it, as soon as it begins and however long it lasts; there are no
// double presses; and otherwise only a short press and one held for 2 s differ. What
// is in doubt stops or eases.
//
// Debounce turns the levels of the pin into presses (press.go), phase.means says what they mean
// (meaning.go), and Button connects both with a pin and a session (button.go). The
// first two know no clock and no pin.
package button
