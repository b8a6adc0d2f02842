// Package rate finds the breath rate of a person: counted from key presses, and
// tuned from there toward a slower one that is comfortable.
package rate
