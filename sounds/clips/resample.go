package clips

import "math"

const (
	crossings = 40   // zero crossings of the kernel on each side
	fineness  = 512  // points of its table from one to the next
	cutOff    = 0.95 // of half the lower of the two rates
)

// kernel is one half of a low-pass: a sinc under a Blackman–Harris window. It
// passes what lies below 0.43 of the lower rate, and what lies above 0.53 is
// more than 100 dB softer.
var kernel = func() (table [crossings*fineness + 2]float64) {
	for i := range table {
		t := float64(i) / fineness
		sinc := cutOff
		if i > 0 {
			sinc = math.Sin(math.Pi*cutOff*t) / (math.Pi * t)
		}
		w := math.Pi * min(1, t/crossings)
		table[i] = sinc * (0.35875 + 0.48829*math.Cos(w) + 0.14128*math.Cos(2*w) + 0.01168*math.Cos(3*w))
	}
	return table
}()

// resample converts samples of another rate, in hertz, to 48 kHz.
//
// beep's resampler draws a polynomial through the samples and does not filter.
// A recording at 8 kHz gets images only 21 dB softer than itself (of 3.2 kHz at
// 4.8 kHz, with 16 points), and in one at 96 kHz everything above 24 kHz is
// folded down.
func resample(samples []float64, from int) []float64 {
	if from == rate {
		return samples
	}
	step := float64(from) / rate
	scale := min(1, 1/step) // a lower cut-off is a wider kernel
	reach := crossings / scale
	out := make([]float64, int64(len(samples))*rate/int64(from))
	for n := range out {
		at := float64(n) * step
		first := max(0, int(math.Ceil(at-reach)))
		last := min(len(samples)-1, int(at+reach))
		sum := 0.0
		for k := first; k <= last; k++ {
			x := math.Abs(at-float64(k)) * scale * fineness
			i := int(x)
			sum += samples[k] * (kernel[i] + (x-float64(i))*(kernel[i+1]-kernel[i]))
		}
		out[n] = sum * scale
	}
	return out
}
