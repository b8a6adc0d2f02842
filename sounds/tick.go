package sounds

import "math"

const (
	tickLevel  = 0.35
	tickLength = 2880 // frames: 60 ms, in which it dies away
	// tickAgain is how many frames after the first of two ticks the second
	// comes: 90 ms, heard as two (pulses are felt or heard as separate 80 to
	// 90 ms apart or more: Jurado et al. 2021, doi 10.1163/22134468-bja10043).
	tickAgain = 4320
)

// tickSamples is a tick: a sine of B5 that starts where it crosses zero, at its
// full level, and dies away. Its attack is its own first quarter turn, 0.25 ms:
// as steep as it can be without a click. No partial of the breath is near it but
// the overtone with which an exhale begins, and that has hardly come up by then.
var tickSamples = func() (samples [tickLength]float64) {
	for k := range samples {
		x := math.Sin(2 * math.Pi * noteB5 / float64(SampleRate) * float64(k+1)) // the very first is not 0
		samples[k] = tickLevel * x * math.Exp(-float64(k)/600) * raisedCosine(tickLength-k, tickLength)
	}
	return
}()

// addTick adds the part of a tick from frame start on that falls into block,
// whose first frame is at.
func addTick(block []float64, at, start int) {
	for n := max(start, at); n < min(start+tickLength, at+len(block)); n++ {
		block[n-at] += tickSamples[n-start]
	}
}
