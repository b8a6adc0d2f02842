package voice

import (
	"math"
	"testing"
)

func TestLoudnessIsThatOfTheTones(t *testing.T) {
	// The tones are at −20 LUFS at volume 60, of which the gain is 0.6^(5/3).
	if want := -20 - 20*math.Log10(math.Pow(0.6, 5.0/3)); math.Abs(Loudness-want) > 0.0001 {
		t.Errorf("%v, want %v", Loudness, want)
	}
}
