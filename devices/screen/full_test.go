package screen

import (
	"testing"
	"time"

	"glidepace/pacer"
	"glidepace/sessions"
	"glidepace/sessions/glides"
)

func BenchmarkView(b *testing.B) {
	g, _ := glides.Find("median-wrist")
	s := &sessions.Session{Breath: sessions.Breath{Rate: 8, Ratio: sessions.Ratio{Inhale: 1, Exhale: 1.5}, Pause: 500 * time.Millisecond},
		Exercises: []sessions.Exercise{{Glide: g, Side: sessions.Right, Sets: 1, Reps: 10}}}
	tl, err := pacer.New(s)
	if err != nil {
		b.Fatal(err)
	}
	m := model{width: 80, height: 24, timeline: tl, step: 1, status: running, paint: paint{true}}
	i := 0
	for b.Loop() {
		i++
		m.now = m.at.Add(time.Duration(i%100) * 40 * time.Millisecond)
		m.View()
	}
}
