//go:build real

package file

import (
	"os/exec"
	"path/filepath"
	"slices"
	"testing"
	"time"
)

// TestSpeed measures in one run, on one machine and disk, what the writers
// take for a session of ten minutes beside programs that do as much: sox makes
// a tone of the same length as WAV, flac encodes the finished WAV, and dd
// writes the same bytes and brings them to the disk, as Write does. Each is
// the median of five turns.
func TestSpeed(t *testing.T) {
	dir := t.TempDir()
	s := session(t)
	wav, out := filepath.Join(dir, "session.wav"), filepath.Join(dir, "out")
	if err := Write(t.Context(), wav, s, Options{}); err != nil {
		t.Fatal(err)
	}
	own := func(name string) func() error {
		return func() error { return Write(t.Context(), filepath.Join(dir, name), s, Options{Force: true}) }
	}
	program := func(args ...string) func() error {
		return func() error { return exec.Command(args[0], args[1:]...).Run() }
	}
	took := medians(t, map[string]func() error{
		"WAV":  own("own.wav"),
		"FLAC": own("own.flac"),
		"sox":  program("sox", "-n", "-r", "48000", "-b", "16", "-c", "1", out+".wav", "synth", "600", "sine", "220-440"),
		"flac": program("flac", "-5", "--silent", "--force", wav, "-o", out+".flac"),
		"dd":   program("dd", "if="+wav, "of="+out, "bs=1M", "conv=fsync"),
	})
	for _, c := range []struct {
		own, other string
		most       float64 // 0 for any
	}{
		{"WAV", "sox", 1. / 3},
		{"FLAC", "flac", 2},
		{"WAV", "dd", 0},
	} {
		ratio := took[c.own].Seconds() / took[c.other].Seconds()
		t.Logf("%-4s %v is %.2f of %-4s %v", c.own, took[c.own], ratio, c.other, took[c.other])
		if c.most > 0 && ratio > c.most {
			t.Errorf("%s takes %.2f of what %s takes, want %.2f at most", c.own, ratio, c.other, c.most)
		}
	}
}

// medians takes turns, so that what else the machine does meets all alike.
func medians(t *testing.T, all map[string]func() error) map[string]time.Duration {
	t.Helper()
	const turns = 5
	took := map[string][]time.Duration{}
	for range turns {
		for name, f := range all {
			began := time.Now()
			if err := f(); err != nil {
				t.Fatalf("%s: %v", name, err)
			}
			took[name] = append(took[name], time.Since(began))
		}
	}
	middle := map[string]time.Duration{}
	for name, times := range took {
		slices.Sort(times)
		middle[name] = times[turns/2].Round(time.Millisecond)
	}
	return middle
}
