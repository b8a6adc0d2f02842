package clips

import (
	"errors"
	"math"
	"slices"

	"glidepace/pacer"
	"glidepace/sounds/loudness"
	"glidepace/sounds/voice"
)

const rate = pacer.SampleRate

const (
	window  = rate / 200 // frames that are judged together as sound or silence: 5 ms
	margin  = rate / 100 // frames kept around the sound: 10 ms
	quiet   = 0.0056     // −45 dB: windows so far under the peak of a clip are silence,
	noisy   = 0.018      // −35 dB: or so far under it, in a recording with that much noise
	silent  = 0.001      // −60 dB under full scale: a clip that never gets higher is silent
	wild    = 100        // a sample so far over full scale (1) is damaged
	minimum = rate / 20  // frames of the shortest sound that can be a word: 50 ms
)

var errSilent = errors.New("is silent, or nearly so: record it again, nearer to the microphone")

// newClip makes a clip of samples at 48 kHz. It changes the samples.
func newClip(samples []float64) (voice.Clip, error) {
	sum := 0.0
	for _, x := range samples {
		if !(math.Abs(x) <= wild) { // or not a number
			return nil, errDamaged
		}
		sum += x
	}
	// A cheap sound card adds a constant to all samples. It would pass for sound
	// where there is none.
	offset := sum / float64(max(1, len(samples)))
	for i := range samples {
		samples[i] -= offset
	}
	samples = trimmed(samples)
	if len(samples) < minimum {
		return nil, errSilent
	}
	for i := range margin {
		edge := (1 - math.Cos(math.Pi*float64(i)/margin)) / 2
		samples[i] *= edge
		samples[len(samples)-1-i] *= edge
	}
	if math.IsInf(loudness.Level(samples, voice.Loudness, voice.Ceiling), -1) {
		return nil, errSilent
	}
	clip := make(voice.Clip, len(samples))
	for i, x := range samples {
		clip[i] = int16(math.Round(x * math.MaxInt16))
	}
	return clip, nil
}

// trimmed returns samples without the silence before and after the sound.
func trimmed(samples []float64) []float64 {
	peak := 0.0
	for _, x := range samples {
		peak = max(peak, math.Abs(x))
	}
	if peak < silent {
		return nil
	}
	var levels []float64
	for part := range slices.Chunk(samples, window) {
		power := 0.0
		for _, x := range part {
			power += x * x
		}
		levels = append(levels, math.Sqrt(power/float64(len(part))))
	}
	// The quietest tenth of the windows has only the noise of the room, which
	// elsewhere is up to three times as loud.
	floor := slices.Sorted(slices.Values(levels))[len(levels)/10]
	limit := max(quiet*peak, min(noisy*peak, 3*floor))
	from, to := len(samples), 0
	for i, level := range levels {
		if level > limit {
			from, to = min(from, i*window), (i+1)*window
		}
	}
	return samples[max(0, from-margin):min(len(samples), to+margin)]
}
