package loudness

import (
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"glidepace/pacer"
)

// sine returns a sine of so many samples.
func sine(hertz, amplitude, phase float64, samples int) []float64 {
	list := make([]float64, samples)
	for n := range list {
		list[n] = amplitude * math.Sin(2*math.Pi*hertz*float64(n)/pacer.SampleRate+phase)
	}
	return list
}

// noise returns white noise that never reaches amplitude.
func noise(amplitude float64, samples int) []float64 {
	r := rand.New(rand.NewPCG(1, 2))
	list := make([]float64, samples)
	for n := range list {
		list[n] = amplitude * (2*r.Float64() - 1)
	}
	return list
}

// speech returns noise with the crest factor of speech, that peaks near
// amplitude: syllables of 200 ms with a strong beginning, and a pause after
// every fourth.
func speech(amplitude float64, samples int) []float64 {
	list := noise(1, samples)
	low := 0.0
	for n := range list {
		low += 0.3 * (list[n] - low) // duller, as a voice is
		at := float64(n%9600) / 9600
		list[n] = 8 * low * math.Sin(math.Pi*at) * math.Exp(-6*at)
		if n/9600%5 == 4 {
			list[n] = 0
		}
		list[n] = amplitude * max(-1, min(1, list[n]))
	}
	return list
}

func scaled(samples []float64, by float64) []float64 {
	list := slices.Clone(samples)
	for n := range list {
		list[n] *= by
	}
	return list
}

func decibels(x float64) float64 { return 20 * math.Log10(x) }

func samplePeak(samples []float64) (peak float64) {
	for _, x := range samples {
		peak = max(peak, math.Abs(x))
	}
	return peak
}

// momentary returns the loudness of each block, without gates.
func momentary(samples []float64) []float64 {
	var b blocks
	b.write(samples)
	list := b.powers()
	for i, p := range list {
		list[i] = lufs(p)
	}
	return list
}

// truePeak returns the highest true peak of samples in dBTP, -Inf for silence.
// Silence is taken to lie before and behind them.
func truePeak(samples []float64) float64 {
	var m interpolator
	high := 0.0
	for _, x := range slices.Concat(samples, make([]float64, delay)) {
		high = max(high, m.next(x))
	}
	return decibels(high)
}

// nearTo fails the test where got is further than within from want.
func nearTo(t *testing.T, what string, got, want, within float64) {
	t.Helper()
	if !(math.Abs(got-want) <= within) && got != want { // also for NaN; -Inf is near -Inf
		t.Errorf("%s: %.4f, want %.4f ± %g", what, got, want, within)
	}
}

// A sine of 997 Hz at full scale in one channel is −3.01 LKFS: ITU-R
// BS.1770-4, Annex 1.
func TestCalibration(t *testing.T) {
	full := sine(997, 1, 0, 10*pacer.SampleRate)
	nearTo(t, "full scale", Integrated(full), -3.01, 0.01)
	nearTo(t, "20 dB less", Integrated(scaled(full, 0.1)), -23.01, 0.01)
	blocks := momentary(full)
	if len(blocks) != 97 {
		t.Errorf("%d blocks in 10 s, want 97", len(blocks))
	}
	for _, l := range blocks[1:] { // the first hears the sine begin
		nearTo(t, "block", l, -3.01, 0.01)
	}
}

// Coefficients as in ITU-R BS.1770-4: stage 1 b 1.53512485958697
// −2.69169618940638 1.19839281085285, a −1.69065929318241 0.73248077421585;
// stage 2 b 1 −2 1, a −1.99004745483398 0.99007225036621.
func TestKWeighting(t *testing.T) {
	if want := (biquad{1.53512485958697, -2.69169618940638, 1.19839281085285, -1.69065929318241, 0.73248077421585}); head != want {
		t.Errorf("stage 1 is %v", head)
	}
	if want := (biquad{1, -2, 1, -1.99004745483398, 0.99007225036621}); highPass != want {
		t.Errorf("stage 2 is %v", highPass)
	}
	// What the formula of the filters says for a steady sine, the meter says
	// of its samples.
	response := func(f biquad, hertz float64) float64 {
		w := 2 * math.Pi * hertz / pacer.SampleRate
		re := func(c0, c1, c2 float64) float64 { return c0 + c1*math.Cos(w) + c2*math.Cos(2*w) }
		im := func(c1, c2 float64) float64 { return c1*math.Sin(w) + c2*math.Sin(2*w) }
		return decibels(math.Hypot(re(f.b0, f.b1, f.b2), im(f.b1, f.b2)) / math.Hypot(re(1, f.a1, f.a2), im(f.a1, f.a2)))
	}
	for _, hertz := range []float64{40, 100, 440, 1000, 3000, 10000} {
		want := -0.691 - 3.0103 + response(head, hertz) + response(highPass, hertz)
		nearTo(t, "sine", Integrated(sine(hertz, 1, 0, 10*pacer.SampleRate)), want, 0.01)
	}
}

// Of 20 s, 97 blocks lie in the first half, 97 in the second, and 3 across the
// seam with 3/4, 1/2 and 1/4 of the first half in them.
func TestGates(t *testing.T) {
	loud := sine(997, 0.1, 0, 10*pacer.SampleRate) // −23.01 LUFS
	for _, c := range []struct {
		name   string
		softer float64 // dB
		mean   float64 // power of the blocks that count, loud being 1
	}{
		{"silence does not count", math.Inf(1), (97 + 1.5) / 100},
		{"20 dB softer does not count", 20, (97 + 1.5 + 1.5*0.01) / 100},
		{"6 dB softer counts", 6, (1 + math.Pow(10, -0.6)) / 2},
	} {
		rest := scaled(loud, math.Pow(10, -c.softer/20))
		nearTo(t, c.name, Integrated(slices.Concat(loud, rest)), -23.01+10*math.Log10(c.mean), 0.01)
	}
	for _, samples := range [][]float64{nil, {0}, make([]float64, 5*pacer.SampleRate), scaled(loud, math.Pow(10, -48./20))} {
		if l := Integrated(samples); !math.IsInf(l, -1) {
			t.Errorf("%d samples under the absolute gate: %.2f LUFS", len(samples), l)
		}
	}
	nearTo(t, "over the absolute gate", Integrated(scaled(loud, math.Pow(10, -46./20))), -69.01, 0.01)
}

// The filters come to rest, so that silence does not take longer to measure
// than sound.
func TestSilenceIsReached(t *testing.T) {
	blocks := momentary(slices.Concat(noise(1, pacer.SampleRate), make([]float64, 2*pacer.SampleRate)))
	if last := blocks[len(blocks)-1]; !math.IsInf(last, -1) {
		t.Errorf("%v LUFS after 2 s of silence", last)
	}
}

// A short sound is as loud as the same sound many times over.
func TestShortSounds(t *testing.T) {
	for _, samples := range []int{1, 100, 7200, 19199, 28800, 100000, long - 1} {
		word := speech(0.5, samples)
		times := (long + samples - 1) / samples
		nearTo(t, "short sound", Integrated(word), Integrated(slices.Repeat(word, times)), 0)
	}
	// 1 kHz in whole periods goes on smoothly from its start.
	for _, samples := range []int{7200, 28800, 96000} {
		nearTo(t, "sine", Integrated(sine(1000, 1, 0, samples)), Integrated(sine(1000, 1, 0, 10*pacer.SampleRate)), 0.02)
	}
}

func TestTruePeak(t *testing.T) {
	// At a quarter of the sample rate and 45°, every sample is 3.01 dB under
	// the peak.
	quarter := sine(pacer.SampleRate/4, 1, math.Pi/4, pacer.SampleRate)
	nearTo(t, "sample peak", decibels(samplePeak(quarter)), -3.01, 0.01)
	// The ends are cut hard, and ring; so they are faded.
	for n := range 1000 {
		quarter[n] *= float64(n) / 1000
		quarter[len(quarter)-1-n] *= float64(n) / 1000
	}
	nearTo(t, "true peak", truePeak(quarter), 0, 0.05)

	// Between two of four points a sample, a sine loses up to cos(π·f/4·fs),
	// and the weights add up to 0.1 dB.
	for _, hertz := range []float64{50, 440, 997, 3000, 7000, 12000, 16000, 20000} {
		lost := -decibels(math.Cos(math.Pi * hertz / 4 / pacer.SampleRate))
		for phase := range 16 {
			faded := sine(hertz, 0.5, float64(phase)*math.Pi/16, 9600)
			for n := range faded {
				faded[n] *= math.Sin(math.Pi * float64(n) / 9600)
			}
			if p := truePeak(faded) + 6.02; p > 0.1 || p < -lost-0.1 {
				t.Errorf("%g Hz, phase %d/16: %.3f dB of the peak, want from %.3f to 0", hertz, phase, p, -lost)
			}
		}
	}

	// The wave of one sample is highest there.
	nearTo(t, "one sample", truePeak([]float64{-0.5}), -6.02, 0.01)
	// Between two equal ones it goes to 4/π of them; half way is one of the
	// four points.
	nearTo(t, "two samples", truePeak([]float64{0.5, 0.5}), decibels(2/math.Pi), 0.1)
	for _, samples := range [][]float64{nil, make([]float64, 1000)} {
		if p := truePeak(samples); !math.IsInf(p, -1) {
			t.Errorf("silence peaks at %.2f dBTP", p)
		}
	}
}
