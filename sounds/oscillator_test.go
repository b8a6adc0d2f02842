package sounds

import (
	"math"
	"math/big"
	"testing"
)

// The reference phase is reduced to one turn in 200 bits before math.Sin sees
// it, so that what is compared is the oscillator's own error.
func TestOscillatorIsExactOverAnHour(t *testing.T) {
	for _, hertz := range []float64{noteG4, noteE5, noteB5, 3 * noteA4} {
		o := newOscillator(hertz, 1)
		turns := new(big.Float).SetPrec(200).Quo(big.NewFloat(hertz), big.NewFloat(float64(SampleRate)))
		worst := 0.0
		for n := 0; n <= 60*60*int(SampleRate); n += 7919 { // a prime, so that all of a cell is met
			phase := new(big.Float).SetPrec(200).Mul(turns, big.NewFloat(float64(n)))
			full, _ := phase.Int(nil)
			part, _ := phase.Sub(phase, new(big.Float).SetInt(full)).Float64()

			j := n % cell
			s, c := o.anchor(n - j)
			worst = max(worst, math.Abs(s*o.cos[j]+c*o.sin[j]-math.Sin(2*math.Pi*part)))
		}
		if worst > 5e-9 {
			t.Errorf("%.2f Hz: up to %g from the sine", hertz, worst)
		}
	}
}
