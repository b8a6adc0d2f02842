package pacer

import (
	"glidepace/sessions"
	"math"
	"strings"
	"testing"
	"time"
)

func TestAtRest(t *testing.T) {
	b := sessions.Breath{Rate: 6, Ratio: sessions.Ratio{Inhale: 1, Exhale: 1.5}, Pause: 500 * time.Millisecond}
	tl, err := AtRest(b, 3)
	if err != nil {
		t.Fatal(err)
	}
	// The worked example of a breath at 6 a minute: inhale 3.8 s, exhale 5.7 s.
	if len(tl.Steps) != 9 || tl.Breaths != 3 || tl.Repetitions != 0 || math.Abs(tl.Duration-30) > 1e-9 {
		t.Errorf("3 breaths: %d steps, %d breaths, %d repetitions, %v s", len(tl.Steps), tl.Breaths, tl.Repetitions, tl.Duration)
	}
	for i, s := range tl.Steps {
		want := []float64{3.8, 5.7, 0.5}[i%3]
		if s.Move != Rest || math.Abs(s.Duration-want) > 1e-9 {
			t.Errorf("step %d: %v for %v s, want rest for %v s", i, s.Move, s.Duration, want)
		}
	}
	for _, c := range []struct {
		b    sessions.Breath
		want string
	}{
		{sessions.Breath{Rate: 3, Ratio: sessions.Ratio{Inhale: 1, Exhale: 4}}, "the exhale lasts 16 s at 3 breaths a minute: from 0.5 s to 15 s is allowed"},
		{sessions.Breath{Rate: 30, Ratio: sessions.Ratio{Inhale: 1, Exhale: 4}}, "the inhale lasts 0.4 s"},
		{sessions.Breath{Rate: 31, Ratio: sessions.Ratio{Inhale: 1, Exhale: 1}}, "31 breaths a minute: from 3 to 30 is allowed"},
	} {
		if _, err := AtRest(c.b, 1); err == nil || !strings.Contains(err.Error(), c.want) {
			t.Errorf("got %v, want %q", err, c.want)
		}
	}
}
