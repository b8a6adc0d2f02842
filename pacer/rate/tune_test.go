package rate

import (
	"fmt"
	"math"
	"slices"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"glidepace/pacer"
	"glidepace/sessions"
)

func TestSlowerAndFaster(t *testing.T) {
	var down []float64
	for r := 14.0; ; r = Slower(r) {
		down = append(down, r)
		if Slower(r) == r {
			break
		}
	}
	// Worked by hand: nine tenths, to the nearest half, halves up.
	if want := []float64{14, 12.5, 11.5, 10.5, 9.5, 8.5, 7.5, 7, 6.5, 6, 5.5, 5, 4.5, 4, 3.5, 3}; !slices.Equal(down, want) {
		t.Errorf("the run down is %v, want %v", down, want)
	}
	for rate, want := range map[float64]struct{ slower, faster float64 }{
		14.3: {13, 16}, 30: {27, 30}, 28: {25, 30}, 3: {3, 3.5}, 3.2: {3, 3.5}, 5: {4.5, 5.5}, 6.5: {6, 7},
	} {
		if s, f := Slower(rate), Faster(rate); s != want.slower || f != want.faster {
			t.Errorf("from %g: slower %g, faster %g, want %g and %g", rate, s, f, want.slower, want.faster)
		}
	}
}

func TestLongerExhaleAndInhale(t *testing.T) {
	for _, c := range []struct{ from, exhale, inhale sessions.Ratio }{
		{sessions.Ratio{Inhale: 1, Exhale: 1}, sessions.Ratio{Inhale: 1, Exhale: 1.1}, sessions.Ratio{Inhale: 1.1, Exhale: 1}},
		{sessions.Ratio{Inhale: 1, Exhale: 1.5}, sessions.Ratio{Inhale: 1, Exhale: 1.6}, sessions.Ratio{Inhale: 1, Exhale: 1.4}},
		{sessions.Ratio{Inhale: 2, Exhale: 3}, sessions.Ratio{Inhale: 1, Exhale: 1.6}, sessions.Ratio{Inhale: 1, Exhale: 1.4}},
		{sessions.Ratio{Inhale: 1, Exhale: 1.33}, sessions.Ratio{Inhale: 1, Exhale: 1.4}, sessions.Ratio{Inhale: 1, Exhale: 1.3}},
		{sessions.Ratio{Inhale: 1.1, Exhale: 1}, sessions.Ratio{Inhale: 1, Exhale: 1}, sessions.Ratio{Inhale: 1.2, Exhale: 1}},
		{sessions.Ratio{Inhale: 1.05, Exhale: 1}, sessions.Ratio{Inhale: 1, Exhale: 1}, sessions.Ratio{Inhale: 1.1, Exhale: 1}},
		{sessions.Ratio{Inhale: 1, Exhale: 10}, sessions.Ratio{Inhale: 1, Exhale: 10}, sessions.Ratio{Inhale: 1, Exhale: 9.9}},
		{sessions.Ratio{Inhale: 10, Exhale: 1}, sessions.Ratio{Inhale: 9.9, Exhale: 1}, sessions.Ratio{Inhale: 10, Exhale: 1}},
	} {
		if e, i := LongerExhale(c.from), LongerInhale(c.from); e != c.exhale || i != c.inhale {
			t.Errorf("from %v: longer exhale %v, longer inhale %v, want %v and %v", c.from, e, i, c.exhale, c.inhale)
		}
	}
}

// By itself it goes down from where a person breathes, by 1 a minute or less,
// and by halves through the range of slow-paced breathing, 4.5–6.5 /min:
// Lehrer, Vaschillo & Vaschillo, Appl Psychophysiol Biofeedback 2000;25:177–191.
func TestStepDown(t *testing.T) {
	for from, want := range map[float64][]float64{
		14:   {13, 12, 11, 10, 9, 8, 7, 6.5, 6, 5.5, 5, 4.5, 4, 3.5, 3, 3},
		9.3:  {8.5, 7.5, 6.5, 6},
		7.1:  {6.5, 6},
		6.9:  {6.5, 6},
		5.8:  {5.5, 5},
		4.6:  {4.5, 4},
		3.2:  {3, 3},
		29.9: {29, 28},
	} {
		for i, r := 0, from; i < len(want); i++ {
			if r = StepDown(r); r != want[i] {
				t.Errorf("from %g: step %d is %g, want %g", from, i, r, want[i])
			}
		}
	}
}

// tried makes stages of "14 8" (rate and comforts, a whole stage), "14 8
// short" (not whole) or "6 7!" (light-headed, whole).
func tried(stages ...string) []Stage {
	var list []Stage
	for _, text := range stages {
		text, light := strings.CutSuffix(text, "!")
		text, short := strings.CutSuffix(text, " short")
		f := strings.Fields(text)
		s := Stage{Ratio: sessions.Ratio{Inhale: 1, Exhale: 1.5}, Seconds: 60, LightHeaded: light, Whole: !short && len(f) > 1}
		fmt.Sscan(f[0], &s.Rate)
		for _, c := range f[1:] {
			var n int
			fmt.Sscan(c, &n)
			s.Comfort = append(s.Comfort, n)
		}
		list = append(list, s)
	}
	return list
}

// The ladder, worked by hand. 6 a minute is the centre of slow-paced breathing
// (Lehrer et al. 2000).
func TestLadder(t *testing.T) {
	const whole = "a step under 6 a minute comes only after this rate was tried for its whole time and rated"
	for _, c := range []struct {
		name             string
		tried            []Stage
		lowest           float64 // 0: no reason against going lower
		why              string  // there is no lower rate to be tried
		nextDown         float64 // of the run down from the last stage
		nextStep         float64 // of the steps
		recommended      float64
		nothingToBeFound bool
	}{
		{name: "the start", tried: tried("14 6"), nextDown: 12.5, nextStep: 13, recommended: 14},
		{name: "better and better", tried: tried("14 6", "12.5 7", "11.5 8"), nextDown: 10.5, nextStep: 10.5, recommended: 11.5},
		{name: "a fall by 1 is none", tried: tried("6.5 8", "6 7"), nextDown: 5.5, nextStep: 5.5, recommended: 6.5},
		{name: "a fall by 2", tried: tried("6.5 8", "6 6"), lowest: 6, why: "comfort fell from 8 to 6 at 6 a minute", recommended: 6.5},
		{name: "two falls by 1 from the best", tried: tried("6.5 8", "6 7", "5.5 6"), lowest: 5.5, why: "comfort fell from 8 to 6 at 5.5 a minute", recommended: 6.5},
		{name: "a fall within a stage", tried: tried("6.5 8", "6 9 7"), lowest: 6, why: "comfort fell from 9 to 7 at 6 a minute", recommended: 6.5},
		{name: "a fall within a minute", tried: tried("6.5 8", "6 5 short"), lowest: 6, why: "comfort fell from 8 to 5 at 6 a minute", recommended: 6.5},
		{name: "a fall is not undone by what comes after", tried: tried("7 9", "6.5 7", "7 9", "6.5 9"), lowest: 6.5, why: "comfort fell from 9 to 7 at 6.5 a minute", recommended: 7},
		{name: "a fall is not tried again", tried: tried("6 9", "5.5 7", "6 9"), lowest: 5.5, why: "comfort fell from 9 to 7 at 5.5 a minute", recommended: 6},
		{name: "a fall on the way up", tried: tried("6 9", "6.5 5", "6 9"), nextDown: 5.5, nextStep: 5.5, recommended: 6},
		{name: "ties to the faster", tried: tried("8 7", "6 8", "7 8", "5.5 8"), nextDown: 5, nextStep: 5, recommended: 7},
		{name: "the worst at a rate counts", tried: tried("6.5 8", "6 9", "6.5 8", "6 8"), nextDown: 5.5, nextStep: 5.5, recommended: 6.5},
		{name: "the worst at a rate counts, whole or not", tried: tried("7 8", "6.5 9", "7 8", "6.5 8 short"), nextDown: 6, nextStep: 6, recommended: 7},
		{name: "light-headed", tried: tried("6.5 7", "6 8", "5.5 9!"), lowest: 5.5, why: "light-headed at 5.5 a minute", recommended: 6},
		{name: "light-headed, no rate given", tried: tried("6.5 7", "6!"), lowest: 6, why: "light-headed at 6 a minute", recommended: 6.5},
		{name: "nothing at or under where the head was light", tried: tried("7 5", "6 9", "6.5 7!"), lowest: 6.5, why: "light-headed at 6.5 a minute", recommended: 7},
		{name: "light-headed from the start", tried: tried("14 6!"), lowest: 14, why: "light-headed at 14 a minute", nothingToBeFound: true},
		{name: "nothing rated", tried: tried("14", "12.5"), nextDown: 11.5, nextStep: 11.5, nothingToBeFound: true},
		{name: "nothing whole", tried: tried("8 7 short", "7 9 short"), nextDown: 6.5, nextStep: 6.5, nothingToBeFound: true},
		{name: "what was not whole is not recommended", tried: tried("7 5", "6.5 9 short"), nextDown: 6, nextStep: 6, recommended: 7},
		{name: "down to 6 without a rating", tried: tried("6.5"), nextDown: 6, nextStep: 6, nothingToBeFound: true},
		{name: "under 6 without a rating", tried: tried("7 8", "6"), why: whole, recommended: 7},
		{name: "under 6, not whole", tried: tried("7 8", "6 9 short"), why: whole, recommended: 7},
		{name: "under 6 again, not whole", tried: tried("6 8", "5.5 8 short"), why: whole, recommended: 6},
		{name: "begun under 6, not whole", tried: tried("5.9 8 short"), why: whole, nothingToBeFound: true},
		{name: "the lowest", tried: tried("5 7", "4.5 8"), why: "4.5 a minute is the lowest that is offered", recommended: 4.5},
		{name: "no step goes past the lowest", tried: tried("4.7 7"), nextDown: 4.5, nextStep: 4.5, recommended: 4.7},
	} {
		t.Run(c.name, func(t *testing.T) {
			lowest, why := LowestRate(c.tried)
			if lowest != c.lowest || lowest > 0 && why != c.why {
				t.Errorf("not under %g because %q, want %g because %q", lowest, why, c.lowest, c.why)
			}
			now := c.tried[len(c.tried)-1].Rate
			for _, way := range []struct {
				steps bool
				want  float64
			}{{false, c.nextDown}, {true, c.nextStep}} {
				next, why := Offer(c.tried, now, 4.5, way.steps)
				if next != way.want || next == 0 && why != c.why || next > 0 && why != "" {
					t.Errorf("steps %t: offers %g because %q, want %g (%q)", way.steps, next, why, way.want, c.why)
				}
			}
			best, ok := Recommend(c.tried)
			if ok == c.nothingToBeFound || best.Rate != c.recommended {
				t.Errorf("recommends %g (%t), want %g", best.Rate, ok, c.recommended)
			}
		})
	}
	for _, c := range []struct{ now, floor, want float64 }{{4.5, 4, 4}, {4, 3, 3.5}, {3.2, 3, 3}, {3, 3, 0}, {8, 7.5, 7.5}, {7.5, 7.5, 0}} {
		for _, steps := range []bool{false, true} {
			if next, _ := Offer(tried(fmt.Sprint(c.now, " 8")), c.now, c.floor, steps); next != c.want {
				t.Errorf("from %g with the floor %g, steps %t: %g, want %g", c.now, c.floor, steps, next, c.want)
			}
		}
	}
}

// Of two ratios at one rate the more comfortable is recommended, of equals the
// one that came first.
func TestRecommendedRatio(t *testing.T) {
	stage := func(exhale float64, comfort int) Stage {
		return Stage{Rate: 6, Ratio: sessions.Ratio{Inhale: 1, Exhale: exhale}, Comfort: []int{comfort}, Whole: true}
	}
	if best, _ := Recommend([]Stage{stage(1.5, 7), stage(1.6, 8), stage(1.7, 8)}); best.Ratio.Exhale != 1.6 {
		t.Errorf("recommends 1:%g, want 1:1.6", best.Ratio.Exhale)
	}
}

func TestTaperTo(t *testing.T) {
	for _, c := range []struct {
		from, to float64
		breaths  int
	}{
		// ⌈|ln(from/to)| / ln 1.05⌉
		{14, 7, 15}, {14, 6.5, 16}, {12, 8, 9}, {8, 12, 9}, {30, 3, 48}, {3, 30, 48},
		{10.5, 10, 1}, {10, 10.5, 1}, {10.51, 10, 2}, {6, 6, 0},
	} {
		taper := TaperTo(c.from, c.to)
		if c.breaths == 0 && taper != nil || c.breaths > 0 && (taper == nil || *taper != sessions.Taper{From: c.from, Breaths: c.breaths}) {
			t.Errorf("from %g to %g: %+v, want %d breaths", c.from, c.to, taper, c.breaths)
		}
	}
}

// Whatever leads to whatever: no breath differs from the one before by more
// than 5 %, the first one included, and it arrives in as few as can be.
func TestTowardInSmallSteps(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		now := rapid.Float64Range(pacer.MinRate, pacer.MaxRate).Draw(t, "now")
		want := rapid.Float64Range(pacer.MinRate, pacer.MaxRate).Draw(t, "want")
		rest, err := pacer.AtRest(Toward(now, sessions.Breath{Rate: want, Ratio: sessions.Ratio{Inhale: 1, Exhale: 1}}), 60)
		if err != nil {
			t.Fatal(err)
		}
		n, rate := 0, now
		for _, s := range rest.Steps {
			if s.Breath != pacer.Inhale || math.Abs(rate-want) <= 1e-9 {
				continue
			}
			if q := s.Rate / rate; q > 1.05+1e-9 || q < 1/1.05-1e-9 {
				t.Fatalf("breath %d at %g a minute comes after one at %g", n, s.Rate, rate)
			}
			n, rate = n+1, s.Rate
		}
		if math.Abs(rate-want) > 1e-9 {
			t.Fatalf("after %d breaths it is at %g", n, rate)
		}
		if fewest := math.Ceil(math.Abs(math.Log(now/want))/math.Log(1.05) - 1e-6); float64(n) > fewest && n > 1 {
			t.Fatalf("it takes %d breaths, want %v", n, fewest)
		}
	})
}

// A step of the ratio changes no phase by more than 5 %: with a as the shorter
// part, from 1:x to 1:(x+0.1), x ≥ 1.
func TestRatioInSmallSteps(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		r := sessions.Ratio{Inhale: 1, Exhale: rapid.Float64Range(1, 10).Draw(t, "long")}
		if rapid.Bool().Draw(t, "inhale longer") {
			r.Inhale, r.Exhale = r.Exhale, r.Inhale
		}
		share := func(r sessions.Ratio) float64 { return r.Exhale / (r.Inhale + r.Exhale) }
		for _, next := range []sessions.Ratio{LongerExhale(r), LongerInhale(r)} {
			a, b := share(r), share(next)
			if max(a/b, b/a, (1-a)/(1-b), (1-b)/(1-a)) > 1.05+1e-9 {
				t.Fatalf("from %v to %v in one breath", r, next)
			}
		}
	})
}
