package rate

import (
	"fmt"
	"math"
	"slices"
)

// The usual rate of an adult at rest, in breaths a minute (general clinical
// references), and the range of slow-paced breathing (Lehrer, Vaschillo &
// Vaschillo, Appl Psychophysiol Biofeedback 2000;25:177–191).
const (
	UsualLow, UsualHigh         = 12, 20
	SlowPacedLow, SlowPacedHigh = 4.5, 6.5
)

// When a count ends: see CountEnds.
const (
	countPresses = 7    // at least; six intervals are the fewest that bound a median at 95 %
	CountSteady  = 0.10 // half the width of the bounds, as a share of the median
	countTime    = 60.0 // seconds, where it does not get steady
	countLongest = 120.0
)

// What tells a wrong press, besides the ratio to the median.
const (
	bounce     = 0.5 // seconds: a key can repeat or bounce 120 times a minute, no adult breathes so fast
	twoBreaths = 1.7 // medians: a shorter interval is more often a long breath than a missed press
	mostMissed = 2   // presses in a row; a longer gap says little about the breath
)

// CountResult is what presses say about the breath. Times are in seconds, rates in
// breaths a minute.
type CountResult struct {
	Rate     float64 `json:"rate_per_min"`
	RateLow  float64 `json:"rate_low_per_min"` // 95 % bounds of Rate; 0 under six intervals
	RateHigh float64 `json:"rate_high_per_min"`

	Median     float64 `json:"median_s"` // of the lengths of a breath
	MedianLow  float64 `json:"median_low_s"`
	MedianHigh float64 `json:"median_high_s"`

	Presses   int             `json:"presses"`
	Length    float64         `json:"duration_s"` // from the first press to the last
	Counted   []float64       `json:"counted_s"`  // the intervals between presses as they came
	Intervals []CountInterval `json:"intervals"`  // the same time, corrected
}

// CountInterval is the time from one inhale to the next that was pressed.
type CountInterval struct {
	Start   float64 `json:"start_s"` // from the first press
	Length  float64 `json:"length_s"`
	Extra   int     `json:"extra_presses"` // doubled presses in it
	Breaths int     `json:"breaths"`       // 1, and one more for each missed press; 0 where the interval is left out
}

// TooFewPressesError says that the presses are not enough for a rate.
type TooFewPressesError struct {
	Presses int
	Usable  int // without doubled presses and those around a gap
}

func (e *TooFewPressesError) Error() string {
	const cure = "a rate takes at least %d, one at each inhale: count again"
	switch {
	case e.Presses == 0:
		return fmt.Sprintf("there were no presses; "+cure, countPresses)
	case e.Usable < e.Presses:
		return fmt.Sprintf("of %d presses %d can be used; "+cure, e.Presses, e.Usable, countPresses)
	case e.Presses == 1:
		return fmt.Sprintf("there was 1 press; "+cure, countPresses)
	}
	return fmt.Sprintf("there were %d presses; "+cure, e.Presses, countPresses)
}

// Count works out the breath rate from the times of presses in seconds, sorted, one
// press at each inhale: 60 over the median of the intervals. An odd breath or a wrong
// press hardly moves the median. Where fewer than countPresses can be used, the error
// is a *TooFewPressesError, and the result is what can be said so far, without bounds.
//
// Presses are corrected first, by the ratio of the intervals to their median:
//
//   - A press within 0.5 s of the one before is the same press.
//   - Two neighbours are one interval where their sum is nearer to the median than
//     the longer of them: the press between them was doubled.
//   - An interval of 1.7 medians or more is taken for 2 breaths, of 2.5 or more
//     for 3: presses were missed. From 3.5 on, and under half the median, it is
//     left out.
//
// An interval of several breaths counts once, as their mean, since it is one
// measurement. Presses at every inhale and every exhale cannot be told from a breath
// that is twice as fast.
//
// The bounds hold whatever the distribution: of n sorted lengths the k-th from each
// end, with the largest k for which 2·P(B < k) ≤ 0.05, B binomial (n, ½).
func Count(presses []float64) (CountResult, error) {
	r := CountResult{Presses: len(presses), Counted: []float64{}, Intervals: []CountInterval{}}
	for i := 1; i < len(presses); i++ {
		r.Counted = append(r.Counted, presses[i]-presses[i-1])
	}
	if len(presses) > 0 {
		r.Length = presses[len(presses)-1] - presses[0]
		r.Intervals = correct(presses)
	}
	var breaths []float64
	for _, v := range r.Intervals {
		if v.Breaths > 0 {
			breaths = append(breaths, v.Length/float64(v.Breaths))
		}
	}
	slices.Sort(breaths)
	if len(breaths) > 0 {
		r.Median = middle(breaths)
		r.Rate = 60 / r.Median
	}
	if usable := min(len(breaths)+1, len(presses)); usable < countPresses {
		return r, &TooFewPressesError{Presses: len(presses), Usable: usable}
	}
	k := medianRank(len(breaths))
	r.MedianLow, r.MedianHigh = breaths[k-1], breaths[len(breaths)-k]
	r.RateLow, r.RateHigh = 60/r.MedianHigh, 60/r.MedianLow
	return r, nil
}

// Steady reports whether half the width of the median's bounds is within 10 %
// of the median.
func (r CountResult) Steady() bool {
	return r.MedianLow > 0 && (r.MedianHigh-r.MedianLow)/2 <= CountSteady*r.Median
}

// CountEnds returns the time at which a count ends if no press follows. There must be
// one press at least: time runs from the first.
//
// A count ends at the first press that makes it steady, the seventh usable press at
// the earliest. If it does not get steady, it ends 60 s after the first press or, if
// that is later, at the seventh. Without a seventh it has failed after 120 s.
func CountEnds(presses []float64) float64 {
	first, last := presses[0], presses[len(presses)-1]
	r, err := Count(presses)
	switch {
	case err != nil:
		return first + countLongest
	case r.Steady():
		return last
	}
	return max(last, first+countTime)
}

// correct returns the intervals between presses, corrected.
func correct(presses []float64) []CountInterval {
	list := []CountInterval{}
	first, from, extra := presses[0], presses[0], 0
	for i, p := range presses[1:] {
		if p-presses[i] < bounce {
			extra++
			continue
		}
		list = append(list, CountInterval{Start: from - first, Length: p - from, Extra: extra})
		from, extra = p, 0
	}
	m := medianLength(list)
	for i := toJoin(list, m); i >= 0; i = toJoin(list, m) {
		list[i].Length += list[i+1].Length
		list[i].Extra += list[i+1].Extra + 1
		list = slices.Delete(list, i+1, i+2)
		m = medianLength(list)
	}
	for i, v := range list {
		n := math.Round(v.Length / m) // 0 where it is short
		if n == 2 && v.Length < twoBreaths*m {
			n = 1
		}
		if n <= 1+mostMissed {
			list[i].Breaths = int(n)
		}
	}
	return list
}

// toJoin returns the interval to join with its next: of all such neighbours those
// whose sum is nearest to the median m. It is -1 where there are none.
func toJoin(list []CountInterval, m float64) int {
	best, off := -1, math.Inf(1)
	for i := range len(list) - 1 {
		a, b := list[i].Length, list[i+1].Length
		if joined := math.Abs(a + b - m); joined < off && joined < math.Abs(max(a, b)-m) {
			best, off = i, joined
		}
	}
	return best
}

func medianLength(list []CountInterval) float64 {
	lengths := make([]float64, len(list))
	for i, v := range list {
		lengths[i] = v.Length
	}
	slices.Sort(lengths)
	return middle(lengths)
}

// middle returns the median of sorted values, NaN without any.
func middle(sorted []float64) float64 {
	n := len(sorted)
	if n == 0 {
		return math.NaN()
	}
	return (sorted[(n-1)/2] + sorted[n/2]) / 2
}

// medianRank returns the largest k for which the k-th of n sorted values from each end
// bounds the median with 95 % confidence; 0 with fewer than six values.
func medianRank(n int) int {
	logFactorial := func(n int) float64 { v, _ := math.Lgamma(float64(n) + 1); return v }
	k, below := 0, 0.0 // below is P(B ≤ k)
	for {
		below += math.Exp(logFactorial(n) - logFactorial(k) - logFactorial(n-k) - float64(n)*math.Ln2)
		if 2*below > 0.05 {
			return k
		}
		k++
	}
}
