// Package screen shows a running session on a terminal and takes the keys
// that steer it.
//
// There are two screens. Lines writes one plain line at each step, for screen
// readers, pipes and logs. Full draws the movement in the whole window: a limb
// that swings from the glide's start position to its end and back. Both choose
// their words in cues.go, hints.go and advice.go.
//
// What is drawn is the movement, never the lungs: the breath is a word, and
// nothing grows, fills or runs down with it. The moment in which the breath
// turns has no word at all. Nothing is told by colour alone.
//
// Keys come in two ways: Full reads them itself, Keys reads them where there
// is no full screen. Both send the same pacer.Command for the same key.
package screen
