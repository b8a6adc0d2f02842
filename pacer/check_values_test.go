package pacer_test

import (
	"math"
	"strings"
	"testing"

	"glidepace/pacer"
	"glidepace/sessions"
	"glidepace/sessions/cautions"
)

// Figures from outside that touch the breath, each with its source.

// breath returns the cycle, inhale and exhale of breaths without a pause.
func breath(t *testing.T, rate, inhale, exhale float64) (cycle, in, out float64) {
	t.Helper()
	s := paced(sessions.ExhaleOnGlide, rate, 1, exercise(1))
	s.LeadIn, s.Breath.Pause = 1, 0
	s.Breath.Ratio = sessions.Ratio{Inhale: inhale, Exhale: exhale}
	tl := mustNew(t, s)
	return tl.Steps[2].Start, tl.Steps[0].Duration, tl.Steps[1].Duration
}

// rounded wants a figure as it is when rounded to the digits of want.
func rounded(t *testing.T, what string, got, want, digit float64) {
	t.Helper()
	if math.Abs(got-want) > digit/2+1e-12 {
		t.Errorf("%s is %v, want %v", what, got, want)
	}
}

// Resonance (slow-paced) range of adults, 4.5–6.5 /min, centre about 6 /min
// (0.1 Hz): Lehrer, Vaschillo & Vaschillo, Appl Psychophysiol Biofeedback
// 2000;25:177–191, doi 10.1023/A:1009554825745. Cycle lengths are 60/rate.
func TestResonanceRange(t *testing.T) {
	for rate, want := range map[float64]float64{6.5: 9.2308, 6: 10, 5.5: 10.9091, 5: 12, 4.5: 13.3333} {
		cycle, _, _ := breath(t, rate, 1, 1)
		rounded(t, "cycle in s", cycle, want, 1e-4)
		noRateCaution(t, rate)
	}
	cycle, _, _ := breath(t, 6, 1, 1)
	rounded(t, "the centre in Hz", 1/cycle, 0.1, 1e-9)
}

// Adult resting rate, 12–20 /min: general clinical references.
func TestRestingRate(t *testing.T) {
	for _, rate := range []float64{12, 16, 20} {
		noRateCaution(t, rate)
	}
}

// noRateCaution: a rate that people are known to breathe at is no reason for
// a caution.
func noRateCaution(t *testing.T, rate float64) {
	t.Helper()
	s := paced(sessions.ExhaleOnGlide, rate, 1, exercise(1))
	s.Breath.Pause = 0
	for _, c := range pacer.Cautions(mustNew(t, s)) {
		if strings.Contains(c.Text, "breaths a minute: outside") {
			t.Errorf("%v a minute has a caution: %s", rate, c.Text)
		}
	}
}

// 6 and 12 /min at inhale/exhale 0.42 and 2.33: Van Diest et al., Appl
// Psychophysiol Biofeedback 2014;39:171–180, doi 10.1007/s10484-014-9253-x.
// The phases, without a pause, are T·r/(1+r) and the rest.
//
// 6 and 5.5 /min, each 5:5 and 4:6: Lin, Tai & Fan, Int J Psychophysiol
// 2014;91:206–211, doi 10.1016/j.ijpsycho.2013.12.006. The phases are
// arithmetic.
func TestRatiosOfStudies(t *testing.T) {
	for _, c := range []struct{ rate, a, b, inhale, exhale, digit float64 }{
		{6, 0.42, 1, 2.958, 7.042, 1e-3},
		{6, 2.33, 1, 6.997, 3.003, 1e-3},
		{12, 0.42, 1, 1.479, 3.521, 1e-3},
		{12, 2.33, 1, 3.498, 1.502, 1e-3},
		{5.5, 5, 5, 5.4545, 5.4545, 1e-4},
		{5.5, 4, 6, 4.3636, 6.5455, 1e-4},
		{6, 5, 5, 5, 5, 1e-4},
		{6, 4, 6, 4, 6, 1e-4},
	} {
		_, in, out := breath(t, c.rate, c.a, c.b)
		rounded(t, "inhale in s", in, c.inhale, c.digit)
		rounded(t, "exhale in s", out, c.exhale, c.digit)
	}
}

// Over-breathing is real at slow rates: of 16 people, 10 min a day at 0.1 Hz,
// 37.5 % had a PetCO2 under 30 mmHg on day 1 (PLoS One 2019;14(6):e0218550).
// So its signs are named before every session, as patient-information pages on
// hyperventilation name them, and where a rate is unusual.
func TestSignsOfOverBreathingAreNamed(t *testing.T) {
	told := strings.ToLower(strings.Join(cautions.BeforeSession, " "))
	for _, sign := range []string{"light-headed", "tingling", "numbness", "short of breath"} {
		if !strings.Contains(told, sign) {
			t.Errorf("%q is not named before a session", sign)
		}
	}
	s := paced(sessions.ExhaleOnGlide, 3.5, 1, exercise(1))
	named := false
	for _, c := range pacer.Cautions(mustNew(t, s)) {
		named = named || strings.Contains(c.Text, "light-headed")
	}
	if !named {
		t.Error("a rate of 3.5 a minute has no caution that names light-headedness")
	}
}
