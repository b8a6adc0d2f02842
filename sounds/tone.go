package sounds

import "math"

// Notes in hertz. They lie between 200 and 1000 Hz, where older ears still hear
// well and small speakers still work.
var (
	noteG4 = note(-2)
	noteB4 = note(2)
	noteC5 = note(3)
	noteB5 = note(14)
)

// note returns the frequency of the note that lies so many semitones above
// A4, in equal temperament on A4 = 440 Hz (ISO 16).
func note(semitones int) float64 { return 440 * math.Exp2(float64(semitones)/12) }

// chord is a root with one overtone, which gives it its timbre, and a second
// note above it, all in whole ratios. It glides from one pitch of the root to
// another.
//
// In the middle of the glide, root with overtone and the second note have the
// same power after the K-weighting of ITU-R BS.1770, and both chords of the
// breath have the same power.
//
// No partial crosses 500 Hz, below which a small speaker fades. So what it
// leaves of a chord glides as the whole does.
type chord struct {
	wave     *wave
	root     int     // to the turn of the wave
	from, to float64 // of the root, in hertz
}

const (
	// toneLevel brings a set with its ticks to −20 LUFS in one channel at
	// volume 60.
	toneLevel    = 0.375
	endMarkLevel = toneLevel / 2 // 6 LU softer than the breath
)

var (
	// inhaling rises by a major third. It is a fifth over a hollow root, with
	// its third harmonic and no second.
	inhaling = chord{newWave([]float64{
		2: 0.6062 * toneLevel, 3: 0.6938 * toneLevel, 6: 0.3031 * toneLevel,
	}), 2, noteG4, noteB4}
	// exhaling falls by a major third. It is a fourth over a mellow root, with
	// a little of its second harmonic.
	exhaling = chord{newWave([]float64{
		3: 0.6627 * toneLevel, 4: 0.6988 * toneLevel, 6: 0.2319 * toneLevel,
	}), 3, noteB4, noteG4}
	// ended marks the end of a set: a fifth that stays where it is and dies away.
	ended = chord{newWave([]float64{
		2: 0.6778 * endMarkLevel, 3: 0.6826 * endMarkLevel, 4: 0.1695 * endMarkLevel,
	}), 2, noteC5, noteC5}
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
//
// The frequency goes in a straight line, so at frame k of the tone the phase is
// k·from + k²·half, where half is half of what each frame adds to the
// frequency. All are integers, so nothing is lost however long a tone is.
func (t *tone) write(block []float64, at int) {
	first, next := max(t.start, at), min(t.end, at+len(block))
	if first >= next {
		return
	}
	from, to := turns(t.chord.from)/int64(t.chord.root), turns(t.chord.to)/int64(t.chord.root)
	half := (to - from) / int64(2*(t.end-t.start))
	k := int64(first - t.start)
	phase, step := uint64(k*from+k*k*half), uint64(from+(2*k+1)*half)
	block = block[first-at : next-at]
	for i := range block {
		block[i] = t.chord.wave.at(phase)
		phase += step
		step += uint64(2 * half)
	}

	attack, release := t.edges()
	for i := range min(len(block), t.start+attack-first) {
		block[i] *= raisedCosine(first+i-t.start, attack)
	}
	for i := max(0, t.end-release-first); i < len(block); i++ {
		block[i] *= raisedCosine(t.end-first-i, release)
	}
}

// edges returns how many frames the tone takes to come and to go. A short tone
// takes fewer, in proportion.
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
