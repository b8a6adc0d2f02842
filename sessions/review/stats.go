package review

import (
	"math"
	"slices"
)

// z95 is the 0.975 quantile of the standard normal distribution.
const z95 = 1.959963984540054

// wilson returns the Wilson score interval, 95 %, of k of n: Newcombe, Stat Med
// 1998;17:857–872.
func wilson(k, n int) (low, high float64) {
	if n == 0 {
		return 0, 1
	}
	N, p := float64(n), float64(k)/float64(n)
	centre := 2*N*p + z95*z95
	half := z95 * math.Sqrt(z95*z95+4*N*p*(1-p))
	return max(0, (centre-half)/(2*(N+z95*z95))), min(1, (centre+half)/(2*(N+z95*z95)))
}

// kendall is a Mann–Kendall test of a series.
type kendall struct {
	S    int
	Var  float64 // of S, with ties in the values
	Z, P float64 // by the normal approximation with continuity; P is two-sided
}

// mannKendall tests values in the order of their time, no two at the same one.
func mannKendall(values []float64) (k kendall) {
	n := len(values)
	for i, a := range values {
		for _, b := range values[i+1:] {
			switch {
			case b > a:
				k.S++
			case b < a:
				k.S--
			}
		}
	}
	spread := func(n int) float64 { return float64(n * (n - 1) * (2*n + 5)) }
	k.Var = spread(n)
	sorted := slices.Sorted(slices.Values(values))
	for i := 0; i < n; {
		ties := 1
		for i+ties < n && sorted[i+ties] == sorted[i] {
			ties++
		}
		k.Var -= spread(ties)
		i += ties
	}
	k.Var /= 18
	k.P = 1
	if k.Var > 0 && k.S != 0 {
		k.Z = math.Copysign(math.Abs(float64(k.S))-1, float64(k.S)) / math.Sqrt(k.Var)
		k.P = math.Erfc(math.Abs(k.Z) / math.Sqrt2)
	}
	return k
}

// theilSen returns the median slope of y over x and its 95 % interval, by Gilbert's ranks
// with interpolation: USEPA Unified Guidance, EPA 530/R-09-007, 2009, chapter 17. No two
// x are the same, and there are two or more.
func theilSen(x, y []float64, variance float64) (slope, low, high float64) {
	slopes := make([]float64, 0, len(x)*(len(x)-1)/2)
	for i := range x {
		for j := i + 1; j < len(x); j++ {
			slopes = append(slopes, (y[j]-y[i])/(x[j]-x[i]))
		}
	}
	slices.Sort(slopes)
	n, c := float64(len(slopes)), z95*math.Sqrt(variance)
	return atRank(slopes, (n+1)/2), atRank(slopes, (n-c)/2), atRank(slopes, (n+c)/2+1)
}

// atRank returns the value at a rank from 1 on, between two of them by interpolation.
func atRank(sorted []float64, rank float64) float64 {
	rank = min(max(rank, 1), float64(len(sorted)))
	below, part := math.Modf(rank)
	v := sorted[int(below)-1]
	if part == 0 {
		return v
	}
	return v + part*(sorted[int(below)]-v)
}

// median returns the median of sorted values.
func median(sorted []float64) float64 { return atRank(sorted, float64(len(sorted)+1)/2) }

func mean(values []float64) *float64 {
	if len(values) == 0 {
		return nil
	}
	sum := 0.0
	for _, v := range values {
		sum += v
	}
	return new(sum / float64(len(values)))
}

// lowerMedian returns the median, of two in the middle the lower; nil if there is none.
func lowerMedian(values []int) *int {
	if len(values) == 0 {
		return nil
	}
	return new(slices.Sorted(slices.Values(values))[(len(values)-1)/2])
}
