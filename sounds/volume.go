package sounds

import "math"

// Gain returns the factor that a volume from 0 to 100 puts on every sample,
// last of all: (volume/100)^(5/3). Loudness as it is felt grows with sound
// pressure to the power 0.6 (Stevens), so half the volume is felt as half as
// loud. 60 is 7.4 dB under full, 0 is silence. Volumes outside are taken to
// the nearer end.
func Gain(volume int) float64 {
	return math.Pow(float64(min(max(volume, 0), 100))/100, 5.0/3)
}
