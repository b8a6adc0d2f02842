package file

import (
	"path/filepath"
	"testing"

	"glidepace/pacer"
)

// BenchmarkWrite writes the sound of a session of ten minutes, to the disk.
func BenchmarkWrite(b *testing.B) {
	s := session(b)
	for _, name := range []string{"session.wav", "session.flac"} {
		b.Run(filepath.Ext(name)[1:], func(b *testing.B) {
			name := filepath.Join(b.TempDir(), name)
			b.SetBytes(int64(2 * s.Len()))
			b.ReportAllocs()
			for b.Loop() {
				if err := Write(b.Context(), name, s, Options{Force: true}); err != nil {
					b.Fatal(err)
				}
			}
			seconds := b.Elapsed().Seconds() / float64(b.N)
			b.ReportMetric(float64(s.Len())/pacer.SampleRate/seconds, "×real-time")
		})
	}
}
