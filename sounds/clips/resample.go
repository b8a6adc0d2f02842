package clips

import "math"

const (
	crossings = 40   // zero crossings of the kernel on each side
	fineness  = 512  // points of its table from one to the next
	cutOff    = 0.95 // of half the lower of the two rates
)

// kernel is one half of a low-pass: a sinc under a Blackman–Harris window. Of
// the lower rate it lets the first 0.43 pass, and holds back by more than
// 100 dB what lies over 0.53.
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

// resample returns samples of another rate, in hertz, as they are at 48 kHz.
//
// The resampler that comes with beep draws a polynomial through the samples.
// Of a recording at 8 kHz that leaves images (of 3.2 kHz at 4.8 kHz) only 21 dB
// under it, with 16 points, and it folds all that one at 96 kHz has over 24 kHz
// down to below that. This one filters.
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
