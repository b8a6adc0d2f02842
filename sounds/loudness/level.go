package loudness

import (
	"math"
	"slices"

	"glidepace/pacer"
)

const (
	near = 0.1 // LU from the wanted loudness: near enough
	// worth is the part of more gain that must come back as loudness. If the
	// limiter takes more than the rest, more gain only makes the clip harsh.
	worth = 0.1
	// ease is how long the limiter takes to turn down before a peak and up
	// again after it: 5 ms. Both together are about one period of a low voice;
	// a shorter time would change the shape of each period.
	ease = pacer.SampleRate / 200
)

// Level brings a clip of speech to a loudness of target LUFS, in place. No sample
// is over ceiling, an amplitude over 0, and true peaks are over it by at most a
// few hundredths of a decibel. Level returns the loudness reached.
//
// The whole clip gets one gain, and a limiter turns the peaks down smoothly.
// More gain makes up for what the limiter took, until the loudness is within
// 0.1 LU of target or the limiter takes nine tenths of any more gain: then the
// clip stays softer than asked for. Speech without silence around it gets to
// about 12 LU under its ceiling.
//
// A clip with nothing louder than −70 LUFS stays as it is, and Level returns
// -Inf.
func Level(clip []float64, target, ceiling float64) float64 {
	loudness := Integrated(clip)
	if math.IsInf(loudness, -1) {
		return loudness
	}
	original, heights := slices.Clone(clip), heights(clip)
	gain := 1.0
	for away := math.Inf(1); ; {
		gain *= math.Pow(10, (target-loudness)/20)
		limit(clip, original, heights, gain, ceiling)
		loudness = Integrated(clip)
		now := math.Abs(target - loudness)
		if now <= near || now >= (1-worth)*away {
			return loudness
		}
		away = now
	}
}

// heights returns for each sample how high the wave goes between the samples
// before and after it.
func heights(clip []float64) []float64 {
	var m interpolator
	high := make([]float64, len(clip)+delay)
	for i := range high {
		x := 0.0
		if i < len(clip) {
			x = clip[i]
		}
		high[i] = m.next(x)
	}
	high = high[delay-1:] // high[i+1] is what comes behind sample i
	for i := range clip {
		high[i] = max(high[i], high[i+1])
	}
	return high[:len(clip)]
}

// limit writes original times gain into clip, turned down around the places
// where it would go over ceiling.
//
// The factor for each sample is the lowest that any sample within ease of it
// needs, smoothed by two running means that together are as long. Everything
// in these means is at or under what the sample itself needs, and so they are.
func limit(clip, original, heights []float64, gain, ceiling float64) {
	need := func(i int) float64 { return min(1, ceiling/(gain*heights[i])) }
	factors := make([]float64, len(clip)+ease) // ease samples late
	for i := range factors {
		factors[i] = 1
		if i < len(clip) {
			factors[i] = need(i)
		}
	}
	factors = runningMean(runningMean(runningMin(factors)))
	for i, x := range original {
		// The sums of a running mean round: min keeps what they promise.
		clip[i] = x * gain * min(factors[i+ease], need(i))
	}
}

// runningMin returns the lowest of each value and the ease before it.
func runningMin(values []float64) []float64 {
	lowest := make([]float64, len(values))
	var rising []int // places of values that may yet be the lowest
	for i, v := range values {
		for len(rising) > 0 && values[rising[len(rising)-1]] >= v {
			rising = rising[:len(rising)-1]
		}
		if rising = append(rising, i); rising[0] < i-ease {
			rising = rising[1:]
		}
		lowest[i] = values[rising[0]]
	}
	return lowest
}

// runningMean returns the mean of each value and the ease/2 before it, with
// ones before the first.
func runningMean(values []float64) []float64 {
	const length = ease/2 + 1
	means := make([]float64, len(values))
	sum := float64(length)
	for i, v := range values {
		sum += v
		if i < length {
			sum--
		} else {
			sum -= values[i-length]
		}
		means[i] = sum / length
	}
	return means
}
