package pacer_test

import (
	"testing"
	"time"

	"glidepace/pacer"
	"glidepace/sessions"
)

// A session of 60 minutes, the longest there is, with its limits checked: slow
// as usual, and with nearly as many steps as fit into it.
func BenchmarkHour(b *testing.B) {
	quick := exercise(30)
	quick.Sets, quick.Side, quick.BothEnds = 9, sessions.Both, true
	most := paced(sessions.ExhaleOnGlide, 28.5, 1, quick, quick, quick)
	most.Breath.Pause = 50 * time.Millisecond
	for name, s := range map[string]*sessions.Session{"usual": hour(sessions.ExhaleOnGlide), "many steps": most} {
		b.Run(name, func(b *testing.B) {
			b.ReportAllocs()
			var tl *pacer.Timeline
			for b.Loop() {
				tl = mustNew(b, s)
			}
			b.ReportMetric(float64(len(tl.Steps)), "steps")
			if tl.Duration < 55*time.Minute.Seconds() {
				b.Errorf("the session lasts %v s, want about an hour", tl.Duration)
			}
		})
	}
}

// Going on must not be felt as a delay.
func BenchmarkGoOn(b *testing.B) {
	tl := mustNew(b, hour(sessions.ExhaleOnGlide))
	middle := tl.At(30 * time.Minute)
	b.ReportAllocs()
	for b.Loop() {
		tl.GoOn(middle)
	}
}
