package sounds

import "math"

// Gain returns the factor for every sample at a volume from 0 to 100:
// (volume/100)^(5/3). Felt loudness grows with sound pressure to the power 0.6
// (Stevens), so half the volume sounds half as loud. 60 is 7.4 dB under full, 0
// is silence. Volumes outside that range are taken to its nearer end.
func Gain(volume int) float64 {
	return math.Pow(float64(min(max(volume, 0), 100))/100, 5.0/3)
}
