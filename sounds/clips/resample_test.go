package clips

import (
	"fmt"
	"math"
	"testing"
)

func TestResample(t *testing.T) {
	for _, from := range []int{8000, 11025, 22050, 44100, 48000, 96000, 192000} {
		for _, part := range []float64{0.05, 0.43} { // of the lower rate
			t.Run(fmt.Sprintf("%d Hz, %v of it", from, part), func(t *testing.T) {
				f := part * float64(min(from, rate))
				got := resample(sine(f, from, 0.5), from)
				if d := rate/2 - len(got); d < 0 || d > rate/from {
					t.Errorf("%d frames, want %d", len(got), rate/2)
				}
				s := spectrumOf(got[2000:22000])
				at, a := s.peak(0, rate/2)
				if math.Abs(at-f) > 0.1 {
					t.Errorf("%.2f Hz, want %.2f", at, f)
				}
				if math.Abs(decibels(a/0.5)) > 1 { // of which 0.8 dB are the test's own bins
					t.Errorf("the level is off by %.2f dB", decibels(a/0.5))
				}
				for _, b := range [][2]float64{{0, f - 50}, {f + 50, rate / 2}} {
					if at, other := s.peak(b[0], b[1]); decibels(other/a) > -100 {
						t.Errorf("%.1f dB at %.0f Hz, want under −100", decibels(other/a), at)
					}
				}
			})
		}
	}
}

// What lies over half the new rate is gone, and does not come back below it.
func TestResampleFoldsNothing(t *testing.T) {
	for _, from := range []int{96000, 192000} {
		for _, f := range []float64{25500, 36000, 44000, 70000} {
			if f >= float64(from)/2 {
				continue
			}
			got := resample(sine(f, from, 0.5), from)
			if at, a := spectrumOf(got[2000:22000]).peak(0, rate/2); decibels(a/0.5) > -100 {
				t.Errorf("%.0f Hz of %d: %.1f dB at %.0f Hz", f, from, decibels(a/0.5), at)
			}
		}
	}
}

// A recording that ends loudly does not go on behind its end.
func TestResampleEnds(t *testing.T) {
	got := resample([]float64{1, 1, 1}, 8000)
	if len(got) != 18 {
		t.Errorf("%d frames, want 18", len(got))
	}
	if len(resample(nil, 8000)) != 0 {
		t.Error("something came of nothing")
	}
}
