// Package loudness measures how loud sound is felt and how high it peaks, and
// brings speech to one loudness. It knows one channel at 48 kHz, as samples of
// which ±1 is full scale.
//
// Loudness is that of ITU-R BS.1770-4, in LUFS (also called LKFS): the mean
// power after the K-weighting, a filter that hears about as an ear does, over
// blocks of 400 ms of which one begins every 100 ms. Blocks that are silent,
// or much softer than the rest, are left out, so pauses do not count. 1 LU is
// 1 dB of it.
//
// True peaks are those of the wave between the samples, as a loudspeaker or an
// encoder will make it; they lie at or above the highest sample. They are in
// dBTP, decibels over full scale.
package loudness

import "math"

// SampleRate is the one rate that this package knows, in hertz.
const SampleRate = 48000

// Meter measures sound that comes in parts, and keeps 80 bytes for each second
// of it. The zero value is ready for use.
type Meter struct {
	power  blocks
	middle interpolator
	peak   float64
}

// Write takes the next samples.
func (m *Meter) Write(samples []float64) {
	m.power.write(samples)
	m.peak = max(m.peak, m.middle.highest(samples))
}

// Integrated returns the loudness of all that was written, in LUFS. It is -Inf
// where nothing is louder than −70 LUFS or there is less than one block.
func (m *Meter) Integrated() float64 { return m.power.integrated() }

// TruePeak returns the highest true peak of all that was written, in dBTP:
// -Inf for silence. Silence is taken to lie before and behind it.
func (m *Meter) TruePeak() float64 {
	end := m.middle // a copy, so that more can be written
	return 20 * math.Log10(max(m.peak, end.highest(make([]float64, delay))))
}

// long is the length from which samples are measured as they are: 3 s.
const long = 3 * SampleRate

// Integrated returns the loudness of samples in LUFS, -Inf where nothing in
// them is louder than −70 LUFS.
//
// Blocks lie closer over the middle of a sound than over its ends, and a word
// is often shorter than one. So that every part of a short sound counts alike,
// one under 3 s is measured as if it went on from its start again, as many
// times as it takes to fill 3 s. Silence around it then counts as part of it.
func Integrated(samples []float64) float64 {
	var b blocks
	b.write(samples)
	if len(samples) > 0 {
		for n := len(samples); n < long; n += len(samples) {
			b.write(samples)
		}
	}
	return b.integrated()
}

// Momentary returns the loudness of each block of 400 ms in LUFS, without
// gates: block i begins at sample 4800·i. Silence before the first sample is
// part of what the filter hears.
func Momentary(samples []float64) []float64 {
	var b blocks
	b.write(samples)
	powers := b.powers()
	for i, p := range powers {
		powers[i] = lufs(p)
	}
	return powers
}

// TruePeak returns the highest true peak of samples in dBTP, -Inf for silence.
func TruePeak(samples []float64) float64 {
	var m interpolator
	peak := m.highest(samples)
	return 20 * math.Log10(max(peak, m.highest(make([]float64, delay))))
}
