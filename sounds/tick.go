package sounds

import "math"

const (
	tickLevel  = 0.35
	tickLength = 2880 // frames: 60 ms, in which it dies away
	// tickAgain is how many frames the second of two ticks comes after the
	// first: 90 ms (pulses 80 to 90 ms apart or more are felt or heard as
	// separate: Jurado et al. 2021, doi 10.1163/22134468-bja10043).
	tickAgain = 4320
)

// tickSamples is a tick: a sine of B5 that starts at zero and full level, and
// dies away. Its attack is its first quarter turn, 0.25 ms, as steep as it can
// be without a click. The only partial of the breath near it is the overtone
// with which an exhale begins, and that is still very soft then.
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
