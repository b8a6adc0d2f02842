//go:build real

package out

import (
	"testing"
	"time"

	"glidepace/sounds/out/outtest"
)

// BenchmarkPlaying plays for ten seconds at a time and reports what share of a
// core that takes, making the sound included.
func BenchmarkPlaying(b *testing.B) {
	s := outtest.Start(b)
	// A recorder outside this process keeps the sink at short pieces.
	rec := s.Command("parec", "-d", "test.monitor", "--latency-msec=5", "/dev/null")
	if err := rec.Start(); err != nil {
		b.Fatal(err)
	}
	b.Cleanup(func() { rec.Process.Kill(); rec.Wait() })
	time.Sleep(time.Second)
	o, _, _ := open(b, s)
	before, _ := usage(b)
	began := time.Now()
	for b.Loop() {
		o.Play(clicks(10))
		time.Sleep(10 * time.Second)
	}
	after, rss := usage(b)
	b.ReportMetric(100*float64(after-before)/float64(time.Since(began)), "%core")
	b.ReportMetric(float64(rss)/1024, "MB")
}
