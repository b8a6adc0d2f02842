package sounds

import (
	"math"
	"testing"

	"glidepace/pacer"
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

// K-weighting at 48 kHz, ITU-R BS.1770-4.
var (
	stage1 = biquad{1.53512485958697, -2.69169619938638, 1.19839281085285, -1.69065929318241, 0.73248077421585}
	stage2 = biquad{1, -2, 1, -1.99004745483398, 0.99007225036621}
)

func kWeighted(samples []float64) []float64 { return stage2.filter(stage1.filter(samples)) }

// power returns the mean square.
func power(samples []float64) (p float64) {
	for _, x := range samples {
		p += x * x
	}
	return p / float64(len(samples))
}

// lufs returns the loudness of K-weighted samples of one channel.
func lufs(weighted []float64) float64 { return -0.691 + 10*math.Log10(power(weighted)) }

// highPass is a Butterworth filter of second order at 500 Hz: a small speaker.
func highPass() biquad {
	k := math.Tan(math.Pi * 500 / float64(SampleRate))
	a0 := 1 + math.Sqrt2*k + k*k
	return biquad{1 / a0, -2 / a0, 1 / a0, 2 * (k*k - 1) / a0, (1 - math.Sqrt2*k + k*k) / a0}
}

// A sine of 997 Hz at full scale in one channel is −3.01 LKFS: ITU-R
// BS.1770-4, Annex 1.
func TestLoudnessIsCalibrated(t *testing.T) {
	sine := make([]float64, 10*SampleRate)
	for n := range sine {
		sine[n] = math.Sin(2 * math.Pi * 997 * float64(n) / float64(SampleRate))
	}
	if l := lufs(kWeighted(sine)[SampleRate:]); math.Abs(l+3.01) > 0.01 {
		t.Errorf("%.3f LKFS, want −3.01", l)
	}
}

// From end to end, inhale and exhale have one loudness, and a small speaker
// takes less than 6 LU of it.
func TestLoudnessIsEven(t *testing.T) {
	inhale, exhale := long(t)
	const window = 19200 // 400 ms
	lowest, highest := math.Inf(1), math.Inf(-1)
	for name, tone := range map[string][]float64{"inhale": inhale, "exhale": exhale} {
		full, small := kWeighted(tone), kWeighted(highPass().filter(tone))
		for n := edge; n+window+edge <= len(tone); n += window / 4 {
			l := lufs(full[n : n+window])
			lowest, highest = min(lowest, l), max(highest, l)
			if loss := l - lufs(small[n:n+window]); loss >= 6 {
				t.Errorf("%s: behind a high-pass %.1f LU are lost at frame %d", name, loss, n)
			}
		}
	}
	if highest-lowest > 0.3 {
		t.Errorf("from %.2f to %.2f LUFS", lowest, highest)
	}
	mark := lufs(kWeighted(withoutTicks(&pacer.Timeline{}).whole())[edge : edge+9600])
	if under := highest - mark; under < 6 || under > 9 {
		t.Errorf("the end mark begins %.1f LU under the tones", under)
	}
}

// At the default volume a set is −20 LUFS in one channel.
func TestLoudnessOfASet(t *testing.T) {
	both(t, func(t *testing.T, line *pacer.Timeline) {
		all := newScore(line).whole()
		for n := range all {
			all[n] *= Gain(DefaultVolume)
		}
		weighted := kWeighted(all)
		var set []float64
		for i, step := range line.Steps {
			if step.InSet() {
				from, to := span(line, i)
				set = append(set, weighted[from:to]...)
			}
		}
		if l := lufs(set); math.Abs(l+20) > 0.5 {
			t.Errorf("%.2f LUFS", l)
		}
	})
}
