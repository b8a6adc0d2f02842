// Package loudness measures how loud sound is felt, and brings speech to one
// loudness. It knows one channel at 48 kHz, as samples of which ±1 is full
// scale.
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

import "glidepace/pacer"

// long is the length from which samples are measured as they are: 3 s.
const long = 3 * pacer.SampleRate

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
