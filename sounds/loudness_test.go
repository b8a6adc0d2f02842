package sounds

import (
	"math"
	"testing"

	"glidepace/pacer"
	"glidepace/sounds/loudness"
)

// biquad is a filter of second order with a0 = 1.
type biquad struct{ b0, b1, b2, a1, a2 float64 }

func (f biquad) filter(samples []float64) []float64 {
	out := make([]float64, len(samples))
	var x1, x2, y1, y2 float64
	for n, x := range samples {
		y := f.b0*x + f.b1*x1 + f.b2*x2 - f.a1*y1 - f.a2*y2
		x1, x2, y1, y2 = x, x1, y, y1
		out[n] = y
	}
	return out
}

// power returns the mean square.
func power(samples []float64) (p float64) {
	for _, x := range samples {
		p += x * x
	}
	return p / float64(len(samples))
}

// highPass is a Butterworth filter of second order at 500 Hz: a small speaker.
func highPass() biquad {
	k := math.Tan(math.Pi * 500 / float64(SampleRate))
	a0 := 1 + math.Sqrt2*k + k*k
	return biquad{1 / a0, -2 / a0, 1 / a0, 2 * (k*k - 1) / a0, (1 - math.Sqrt2*k + k*k) / a0}
}

// From end to end, inhale and exhale have one loudness, and a small speaker
// takes less than 6 LU of it.
func TestLoudnessIsEven(t *testing.T) {
	inhale, exhale := long(t)
	lowest, highest := math.Inf(1), math.Inf(-1)
	for name, tone := range map[string][]float64{"inhale": inhale, "exhale": exhale} {
		small := highPass().filter(tone)
		const block = 19200 // frames: 400 ms, as in ITU-R BS.1770-4
		for at := edge; at+block <= len(tone)-edge; at += block / 4 {
			full := loudness.Integrated(tone[at : at+block])
			lowest, highest = min(lowest, full), max(highest, full)
			if loss := full - loudness.Integrated(small[at:at+block]); loss >= 6 {
				t.Errorf("%s: behind a high-pass %.1f LU are lost at frame %d", name, loss, at)
			}
		}
	}
	if highest-lowest > 0.3 {
		t.Errorf("from %.2f to %.2f LUFS", lowest, highest)
	}
	mark := loudness.Integrated(withoutTicks(&pacer.Timeline{}).whole()[edge : edge+9600])
	if under := highest - mark; under < 6 || under > 9 {
		t.Errorf("the end mark begins %.1f LU under the tones", under)
	}
}

// At the default volume the sets are −20 LUFS in one channel, and inhale and
// exhale are as loud as each other.
func TestLoudnessOfSets(t *testing.T) {
	lowest, highest := math.Inf(1), math.Inf(-1)
	for name, line := range wholeSessions(t) {
		all := newScore(line, with(100)).whole()
		for n := range all {
			all[n] *= Gain(defaultVolume)
		}
		var sets []float64
		for i, step := range line.Steps {
			if step.InSet() {
				from, to := span(line, i)
				sets = append(sets, all[from:to]...)
			}
		}
		l := loudness.Integrated(sets)
		if math.Abs(l+20) > 0.5 {
			t.Errorf("%s: %.2f LUFS", name, l)
		}
		lowest, highest = min(lowest, l), max(highest, l)
		halves := map[pacer.Breath][]float64{}
		for _, p := range phases(line) {
			halves[p.breath] = append(halves[p.breath], all[p.from:p.to]...)
		}
		if apart := loudness.Integrated(halves[pacer.Inhale]) - loudness.Integrated(halves[pacer.Exhale]); math.Abs(apart) > 1 {
			t.Errorf("%s: the inhales are %.2f LU louder than the exhales", name, apart)
		}
	}
	t.Logf("from %.2f to %.2f LUFS", lowest, highest)
}
