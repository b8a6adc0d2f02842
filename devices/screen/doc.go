// Package screen shows a running session on a terminal.
//
// There are two screens. Lines writes one plain line at each step, for screen
// readers, pipes and logs. Full draws the movement in the whole window: a limb
// that swings from the glide's start position to its end and back. It also reads
// the keys; beside Lines, package keyboard does. Package scene has the words of
// both; hints.go has those for the keys.
//
// The picture shows the movement, never the lungs: the breath is a word, and
// nothing grows, fills or runs down with it. The moment in which the breath
// turns has no word at all. Colour never says anything alone.
package screen
