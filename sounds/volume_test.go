package sounds

import (
	"math"
	"testing"
)

func TestGain(t *testing.T) {
	for volume, want := range map[int]float64{-1: 0, 0: 0, 100: 1, 101: 1} {
		if g := Gain(volume); g != want {
			t.Errorf("volume %d: gain %v, want %v", volume, g, want)
		}
	}
	if db := 20 * math.Log10(Gain(defaultVolume)); math.Abs(db+7.4) > 0.05 {
		t.Errorf("the default volume is at %.2f dB", db)
	}
	// Half the volume has half the loudness, pressure to the power 0.6.
	for volume := 2; volume <= 100; volume += 2 {
		if half := math.Pow(Gain(volume/2)/Gain(volume), 0.6); math.Abs(half-0.5) > 1e-12 {
			t.Errorf("half of volume %d is %v times as loud", volume, half)
		}
	}
}
