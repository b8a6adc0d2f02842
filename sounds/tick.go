package sounds

import "math"

const (
	tickLevel  = 0.35
	tickLength = 2880 // frames: 60 ms, in which it dies away
)

// noteB5 is the tick's, apart from every partial of the breath's tones.
var noteB5 = note(14)

// tickSamples is the tick at a turn of the movement: a sine that starts where
// it crosses zero, at its full level, and dies away. Its attack is its own
// first quarter turn, 0.25 ms: as steep as it can be without a click.
var tickSamples = func() (samples [tickLength]float64) {
	o := newOscillator(noteB5, tickLevel)
	for k := range samples {
		x, _ := o.anchor(k + 1) // one frame on, so that the very first sample is not 0
		samples[k] = x * math.Exp(-float64(k)/600) * raisedCosine(tickLength-k, tickLength)
	}
	return
}()

// tick is one tick, from frame start until before frame end.
type tick struct{ start, end int }

// newTick returns the tick of a step that lasts from frame start until before
// frame end.
func newTick(start, end int) tick { return tick{start, min(end, start+tickLength)} }

// add adds the part of the tick that falls into block, whose first frame is
// at. In a step too short for it the tick is faded out sooner.
func (t tick) add(block []float64, at int) {
	length := t.end - t.start
	for n := max(t.start, at); n < min(t.end, at+len(block)); n++ {
		x := tickSamples[n-t.start]
		if length < tickLength {
			x *= raisedCosine(t.end-n, length)
		}
		block[n-at] += x
	}
}
