package sounds

import "math"

// cell is how many frames an oscillator goes from one anchor to the next; a
// power of two.
const cell = 256

// oscillator is a sine whose value is a function of the frame number alone.
//
// Its phase at frame n is n·step modulo 2^64, where 2^64 is one full turn:
// integer arithmetic, so nothing is lost however long a session is and
// wherever it is entered. At the first frame of every cell, sine and cosine of
// that phase are computed anew; within the cell they are turned on by the
// angle-addition formula, with the turns of all its frames tabulated. So no
// error is carried on from frame to frame, and none comes from a wave table.
//
// The only error that grows is that of step, a frequency rounded to the 53
// bits of a float64: 5e-10 turns after 60 minutes at 1320 Hz. Over that span
// the value is within 5e-9 of the true sine.
type oscillator struct {
	step     uint64
	level    float64       // amplitude
	sin, cos [cell]float64 // of the turns of each frame of a cell
}

// newOscillator returns a sine of the given frequency in hertz and amplitude,
// at phase 0 in frame 0.
func newOscillator(hertz, level float64) *oscillator {
	o := &oscillator{step: uint64(hertz / float64(SampleRate) * (1 << 63) * 2), level: level}
	for j := range o.sin {
		o.sin[j], o.cos[j] = math.Sincos(o.phase(j))
	}
	return o
}

// phase returns the phase at frame n in radians, from −π on and under π.
func (o *oscillator) phase(n int) float64 {
	return float64(int64(uint64(n)*o.step)) * (math.Pi / (1 << 63))
}

// anchor returns what the sine at frame n+j of the cell that starts at frame n
// is made of: sin·o.cos[j] + cos·o.sin[j].
func (o *oscillator) anchor(n int) (sin, cos float64) {
	sin, cos = math.Sincos(o.phase(n))
	return o.level * sin, o.level * cos
}
