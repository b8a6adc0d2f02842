package clips

import (
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"glidepace/sounds/loudness"
	"glidepace/sounds/voice"
)

// word returns something like a word: bursts under a rise and a fall, from
// 0.3 to 0.9 s of 1.2 s.
func word() []float64 {
	samples := make([]float64, rate*12/10)
	for i := range rate * 6 / 10 {
		x := float64(i) / rate
		a := 0.2 * math.Sin(math.Pi*x/0.6) * (1 + math.Sin(2*math.Pi*4*x)) / 2
		samples[rate*3/10+i] = a * (math.Sin(2*math.Pi*180*x) + 0.5*math.Sin(2*math.Pi*720*x) + 0.2*math.Sin(2*math.Pi*2400*x))
	}
	return samples
}

func TestClip(t *testing.T) {
	random := rand.New(rand.NewPCG(1, 2))
	for name, change := range map[string]func(float64) float64{
		"as it is":                  func(x float64) float64 { return x },
		"soft":                      func(x float64) float64 { return 0.02 * x },
		"loud":                      func(x float64) float64 { return 3 * x },
		"with an offset":            func(x float64) float64 { return x + 0.1 },
		"with noise 50 dB under it": func(x float64) float64 { return x + 0.0015*(2*random.Float64()-1) },
	} {
		t.Run(name, func(t *testing.T) {
			samples := word()
			for i, x := range samples {
				samples[i] = change(x)
			}
			clip, err := newClip(samples)
			if err != nil {
				t.Fatal(err)
			}
			if seconds := float64(len(clip)) / rate; seconds < 0.55 || seconds > 0.63 {
				t.Errorf("%.3f s are left of a word of 0.6 s", seconds)
			}
			if l := loudness.Integrated(floats(clip)); math.Abs(l-voice.Loudness) > 0.2 {
				t.Errorf("%.2f LUFS, want %.2f", l, voice.Loudness)
			}
			if peak := slices.Max(floats(clip)); peak > voice.Ceiling+0.0001 {
				t.Errorf("a peak of %.4f", peak)
			}
			first, last := clip[0], clip[len(clip)-1]
			if first != 0 || last != 0 {
				t.Errorf("it begins with %d and ends with %d", first, last)
			}
		})
	}
}

// The noise of a room before and behind a word is taken for silence.
func TestClipWithoutTheRoom(t *testing.T) {
	random := rand.New(rand.NewPCG(5, 6))
	samples := make([]float64, 3*rate)
	for i := range samples {
		samples[i] = 0.0018 * random.NormFloat64() // −55 dB
		if i >= rate && i < rate+rate*6/10 {
			samples[i] += 0.5 * math.Sin(2*math.Pi*300*float64(i)/rate)
		}
	}
	clip, err := newClip(samples)
	if err != nil {
		t.Fatal(err)
	}
	if seconds := float64(len(clip)) / rate; seconds < 0.59 || seconds > 0.63 {
		t.Errorf("%.3f s are left of a word of 0.6 s", seconds)
	}
}

// A sound that begins and ends at full height gets smooth edges.
func TestClipHasNoClick(t *testing.T) {
	samples := make([]float64, rate/2)
	for i := range samples {
		samples[i] = 0.5 * math.Cos(2*math.Pi*400*float64(i)/rate)
	}
	clip, err := newClip(samples)
	if err != nil {
		t.Fatal(err)
	}
	if len(clip) != rate/2 {
		t.Errorf("%d frames, want %d", len(clip), rate/2)
	}
	steepest := float64(slices.Max(clip)) * 2 * math.Pi * 400 / rate
	before := 0.0
	for i, x := range append(floats(clip), 0) {
		if step := math.Abs(x-before) * math.MaxInt16; step > 1.1*steepest {
			t.Fatalf("a step of %.0f at frame %d; the steepest of the sine is %.0f", step, i, steepest)
		}
		before = x
	}
}

func TestNoClip(t *testing.T) {
	click := make([]float64, rate)
	click[20000] = 1
	nan := sine(440, rate, 1)
	nan[5] = math.NaN()
	huge := sine(440, rate, 1)
	huge[5] = math.MaxFloat64
	huge[40000] = -math.MaxFloat64
	for name, c := range map[string]struct {
		samples []float64
		want    error
	}{
		"silence":         {make([]float64, rate), errSilent},
		"only an offset":  {slices.Repeat([]float64{0.5}, rate), errSilent},
		"nothing":         {nil, errSilent},
		"a click":         {click, errSilent},
		"too faint":       {slices.Repeat([]float64{0.0005, -0.0005}, rate/2), errSilent},
		"no number":       {nan, errDamaged},
		"beyond measure":  {huge, errDamaged},
		"a few frames":    {sine(440, rate, 0.01), errSilent},
		"a single sample": {[]float64{0.7}, errSilent},
	} {
		if clip, err := newClip(c.samples); err != c.want {
			t.Errorf("%s: %d frames, error %v; want %v", name, len(clip), err, c.want)
		}
	}
}
