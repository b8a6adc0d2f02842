package sounds

import "math"

// waveBits is the size of a wave's table: 4096 places in a turn, with straight
// lines between them. For a partial six to the turn the error is a
// hundred-thousandth, far less than a 16-bit sample can show.
const waveBits = 12

// wave is one turn of a few partials that are whole multiples of one frequency.
// Its first place comes again at the end.
type wave [1<<waveBits + 1]float64

// newWave returns the sum of sines with the given levels, by how many there are
// to the turn, all at phase 0 where the turn begins.
func newWave(levels []float64) *wave {
	w := new(wave)
	for j := range w {
		for times, level := range levels {
			w[j] += level * math.Sin(2*math.Pi*float64(times*j)/(1<<waveBits))
		}
	}
	return w
}

// at returns the wave at a phase of which 2^64 is one turn.
func (w *wave) at(phase uint64) float64 {
	const rest = 64 - waveBits
	j := phase >> rest
	return w[j] + (w[j+1]-w[j])*float64(phase&(1<<rest-1))*(1./(1<<rest))
}

// turns returns how far a frequency in hertz gets in one frame; 2^64 is one turn.
func turns(hertz float64) int64 { return int64(hertz / float64(SampleRate) * (1 << 32) * (1 << 32)) }
