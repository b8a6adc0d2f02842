// Package loudness measures how loud sound is heard, and brings speech to one
// loudness. It knows one channel at 48 kHz, as samples of which ±1 is full
// scale.
//
// Loudness follows ITU-R BS.1770-4, in LUFS (also called LKFS). It is the mean
// power after the K-weighting, a filter that hears about as an ear does, over
// blocks of 400 ms, one every 100 ms. Blocks that are silent or much softer than
// the rest are left out, so pauses do not count. 1 LU is 1 dB.
//
// True peaks are those of the wave between the samples, as a loudspeaker or an
// encoder will make it. They are in dBTP, decibels over full scale.
package loudness

import "glidepace/pacer"

// long is the length from which a sound is measured as it is: 3 s.
const long = 3 * pacer.SampleRate

// Integrated returns the loudness of samples in LUFS, -Inf where nothing in
// them is louder than −70 LUFS.
//
// More blocks lie over the middle of a sound than over its ends, and a word is
// often shorter than one block. So a sound under 3 s is repeated until 3 s are
// full: then every part of it counts alike, and so does silence around it.
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
