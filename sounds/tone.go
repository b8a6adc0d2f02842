package sounds

import "math"

// Notes in hertz. All lie between 200 and 1000 Hz, where older ears still hear
// well and a small speaker still sounds. Those of the breath make up one chord
// (C6) that is at rest in any order.
var (
	noteG4 = note(-2)
	noteA4 = note(0)
	noteC5 = note(3)
	noteE5 = note(7)
	noteG5 = note(10)
)

// note returns the frequency of the note that lies so many semitones above
// A4, in equal temperament on A4 = 440 Hz (ISO 16).
func note(semitones int) float64 { return 440 * math.Exp2(float64(semitones)/12) }

// chord is a root whose one overtone gives it its timbre, and a second note
// that comes or goes above it while the chord sounds.
//
// The levels are such that root with overtone, and the second note, have the
// same power after the K-weighting of ITU-R BS.1770, and so has every chord of
// the breath. Faded into each other at constant power they keep one loudness.
type chord struct {
	root, overtone, second *oscillator
	opens                  bool // the second note comes; otherwise it goes
}

const (
	// toneLevel brings a set with its ticks to −20 LUFS in one channel at
	// volume 60.
	toneLevel    = 0.375
	endMarkLevel = toneLevel / 2 // 6 LU softer than the breath
)

var (
	// inhaling opens to a fifth over a hollow root, with its third harmonic
	// and no second.
	inhaling = chord{
		root:     newOscillator(noteA4, 0.8581*toneLevel),
		overtone: newOscillator(3*noteA4, 0.4290*toneLevel),
		second:   newOscillator(noteE5, 0.9817*toneLevel),
		opens:    true,
	}
	// exhaling closes from a fourth to a mellow root, with a little of its
	// second harmonic.
	exhaling = chord{
		root:     newOscillator(noteG4, 0.9420*toneLevel),
		overtone: newOscillator(2*noteG4, 0.3297*toneLevel),
		second:   newOscillator(noteC5, 0.9935*toneLevel),
	}
	// ended marks the end of a set: a fifth that dies away to its root.
	ended = chord{
		root:     newOscillator(noteC5, 0.9586*endMarkLevel),
		overtone: newOscillator(2*noteC5, 0.2396*endMarkLevel),
		second:   newOscillator(noteG5, 0.9655*endMarkLevel),
	}
)

const (
	edge          = 4800  // frames in which a tone comes or goes: 100 ms
	endMarkLength = 72000 // frames: 1.5 s, all of it after the edge dying away
)

// tone is one sounding of a chord, from frame start until before frame end.
type tone struct {
	chord           *chord
	start, end      int
	attack, release int // frames of its raised-cosine edges, where there is room
}

func newTone(c *chord, start, end int) tone {
	return tone{c, start, end, edge, edge}
}

func newEndMark(start, end int) tone {
	return tone{&ended, start, min(end, start+endMarkLength), edge, endMarkLength - edge}
}

// write writes the part of the tone that falls into block, whose first frame
// is at.
func (t *tone) write(block []float64, at int) {
	from, to := max(t.start, at), min(t.end, at+len(block))
	for from < to {
		next := min(to, from&^(cell-1)+cell)
		t.writeCell(block[from-at:next-at], from)
		from = next
	}
}

// writeCell writes frames from at on, all of them in one cell.
func (t *tone) writeCell(block []float64, at int) {
	root, overtone, second := t.chord.root, t.chord.overtone, t.chord.second
	first := at &^ (cell - 1)
	rs, rc := root.anchor(first)
	os, oc := overtone.anchor(first)
	ss, sc := second.anchor(first)
	// The fade is exact at the ends of the cell and a straight line between.
	r0, s0 := t.fade(first)
	r1, s1 := t.fade(first + cell)
	dr, ds := (r1-r0)/cell, (s1-s0)/cell

	for i := range block {
		j := (at + i) & (cell - 1)
		low := rs*root.cos[j] + rc*root.sin[j] + os*overtone.cos[j] + oc*overtone.sin[j]
		high := ss*second.cos[j] + sc*second.sin[j]
		x := float64(j)
		block[i] = low*(r0+dr*x) + high*(s0+ds*x)
	}

	attack, release := t.edges()
	for i := range min(len(block), t.start+attack-at) {
		block[i] *= raisedCosine(at+i-t.start, attack)
	}
	for i := max(0, t.end-release-at); i < len(block); i++ {
		block[i] *= raisedCosine(t.end-at-i, release)
	}
}

// fade returns the gains of root and second note at frame n: a point on a
// circle, so that the power stays the same. At its fullest the second note is
// as loud as the root.
func (t *tone) fade(n int) (root, second float64) {
	x := float64(n-t.start) / float64(t.end-t.start)
	if !t.chord.opens {
		x = 1 - x
	}
	second, root = math.Sincos(x * math.Pi / 4)
	return root, second
}

// edges returns how many frames the tone takes to come and to go: fewer than
// it would, in proportion, where it is too short for them.
func (t *tone) edges() (attack, release int) {
	length := t.end - t.start
	if t.attack+t.release <= length {
		return t.attack, t.release
	}
	attack = length * t.attack / (t.attack + t.release)
	return attack, length - attack
}

// raisedCosine rises smoothly from 0 at frame 0 to 1 at frame n.
func raisedCosine(k, n int) float64 {
	return (1 - math.Cos(math.Pi*float64(k)/float64(n))) / 2
}
