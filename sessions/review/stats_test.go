package review

import (
	"math"
	"testing"
)

func near(got, want, within float64) bool { return math.Abs(got-want) <= within }

// Newcombe, Stat Med 1998;17:857–872: the first two are its examples, the others follow
// from its formula.
func TestWilson(t *testing.T) {
	for _, c := range []struct {
		k, n      int
		low, high float64
	}{
		{81, 263, 0.2553, 0.3662},
		{15, 148, 0.0624, 0.1605},
		{0, 20, 0, 0.1611},
		{29, 29, 0.8830, 1},
	} {
		if low, high := wilson(c.k, c.n); !near(low, c.low, 5e-5) || !near(high, c.high, 5e-5) {
			t.Errorf("%d of %d: %.4f to %.4f, want %.4f to %.4f", c.k, c.n, low, high, c.low, c.high)
		}
	}
}

// USEPA Unified Guidance, EPA 530/R-09-007, 2009, example 17-7.
func TestTrend(t *testing.T) {
	x := []float64{89.6, 90.1, 90.8, 91.1, 92.1, 93.1, 94.1, 95.6, 96.1, 96.3}
	y := []float64{56, 53, 51, 55, 52, 60, 62, 59, 61, 63}
	k := mannKendall(y)
	if k.S != 25 || k.Var != 125 || !near(k.Z, 2.146625, 5e-7) || !near(k.P, 0.03182313, 5e-9) {
		t.Errorf("Mann–Kendall: %+v", k)
	}
	if tau := float64(k.S) / 45; !near(tau, 0.5555556, 5e-8) {
		t.Errorf("tau %v", tau)
	}
	slope, low, high := theilSen(x, y, k.Var)
	if !near(slope, 1.3333333, 5e-8) || !near(low, 0.3992083, 5e-8) || !near(high, 2.3333333, 5e-8) {
		t.Errorf("Theil–Sen: %.7f, %.7f to %.7f", slope, low, high)
	}
}
