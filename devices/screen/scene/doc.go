// Package scene says what a screen shows of a session at each moment: the words,
// the numbers and where the hand is. It draws nothing and knows no device, so a
// terminal and a web page show the same.
package scene
