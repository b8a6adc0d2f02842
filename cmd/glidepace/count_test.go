package main

import (
	"strings"
	"testing"

	"glidepace/pacer/rate"
)

// A rate is unusual only if both of its bounds are outside the usual range.
func TestUnusual(t *testing.T) {
	for _, c := range []struct {
		low, high float64
		want      string
	}{
		{12, 20, ""}, {10, 12, ""}, {20, 25, ""}, {8, 30, ""},
		{9, 11.9, "slower than usual"}, {20.1, 24, "faster than usual"},
	} {
		got := unusual(rate.CountResult{RateLow: c.low, RateHigh: c.high})
		if (got == "") != (c.want == "") || !strings.Contains(got, c.want) {
			t.Errorf("%v to %v: %q, want %q", c.low, c.high, got, c.want)
		}
	}
}
