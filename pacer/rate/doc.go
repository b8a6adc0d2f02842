// Package rate finds a breath rate: the one a person has, counted from key presses,
// and a slower one that is comfortable.
package rate
