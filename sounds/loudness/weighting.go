package loudness

import (
	"math"

	"glidepace/pacer"
)

// biquad is a filter of second order with a0 = 1, in the transposed direct
// form II.
type biquad struct{ b0, b1, b2, a1, a2 float64 }

// The K-weighting at 48 kHz, ITU-R BS.1770-4, Annex 1, tables 1 and 2: a filter
// for the head, which lifts high sounds, and a high-pass.
var (
	head     = biquad{1.53512485958697, -2.69169618940638, 1.19839281085285, -1.69065929318241, 0.73248077421585}
	highPass = biquad{1, -2, 1, -1.99004745483398, 0.99007225036621}
)

const (
	hop      = pacer.SampleRate / 10 // samples from one block to the next
	hops     = 4                     // in a block
	absolute = -70.0                 // LUFS; blocks must be louder
	relative = 0.1                   // of the mean power: −10 LU; blocks must be louder
)

// lufs returns the loudness of a mean power after the K-weighting.
func lufs(power float64) float64 { return -0.691 + 10*math.Log10(power) }

// blocks adds up the power of K-weighted samples. Blocks overlap by 75 %, so
// it keeps the sums of their quarters.
type blocks struct {
	head, highPass [2]float64 // what the filters remember
	sum            float64    // of the squares of the hop that is not yet full
	n              int        // samples in it
	sums           []float64  // of all full hops
}

func (b *blocks) write(samples []float64) {
	for len(samples) > 0 {
		part := samples[:min(len(samples), hop-b.n)]
		samples = samples[len(part):]
		b.add(part)
		if b.n += len(part); b.n == hop {
			b.sums = append(b.sums, b.sum)
			b.n, b.sum = 0, 0
			b.head, b.highPass = settled(b.head), settled(b.highPass)
		}
	}
}

func (b *blocks) add(samples []float64) {
	f, g := head, highPass
	f1, f2, g1, g2 := b.head[0], b.head[1], b.highPass[0], b.highPass[1]
	sum := b.sum
	for _, x := range samples {
		y := f.b0*x + f1
		f1 = f.b1*x + f2 - f.a1*y
		f2 = f.b2*x - f.a2*y
		z := g.b0*y + g1
		g1 = g.b1*y + g2 - g.a1*z
		g2 = g.b2*y - g.a2*z
		sum += z * z
	}
	b.head, b.highPass, b.sum = [2]float64{f1, f2}, [2]float64{g1, g2}, sum
}

// settled ends the fading of a filter in silence, before its numbers become so
// small that a processor slows down over them.
func settled(remembered [2]float64) [2]float64 {
	if math.Abs(remembered[0])+math.Abs(remembered[1]) < 1e-30 {
		return [2]float64{}
	}
	return remembered
}

// powers returns the mean power of each block.
func (b *blocks) powers() (list []float64) {
	for i := hops; i <= len(b.sums); i++ {
		var sum float64
		for _, s := range b.sums[i-hops : i] {
			sum += s
		}
		list = append(list, sum/(hops*hop))
	}
	return list
}

// integrated returns the loudness over the blocks that pass both gates.
func (b *blocks) integrated() float64 {
	powers := b.powers()
	gate := math.Pow(10, (absolute+0.691)/10)
	mean := meanOver(gate, powers)
	return lufs(meanOver(max(gate, relative*mean), powers))
}

// meanOver returns the mean of the powers over gate, 0 where there is none.
func meanOver(gate float64, powers []float64) float64 {
	sum, n := 0.0, 0
	for _, p := range powers {
		if p > gate {
			sum += p
			n++
		}
	}
	return sum / float64(max(n, 1))
}
