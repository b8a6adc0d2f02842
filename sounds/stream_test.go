package sounds

import (
	"math"
	"testing"

	"pgregory.net/rapid"
)

func TestSamplesDependOnTheFrameAlone(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		line := anyTimeline(t)
		volume := rapid.IntRange(0, 100).Draw(t, "volume")
		want := newScore(line, with(100)).whole()
		s := New(line, with(volume))
		if s.Len() != len(want) {
			t.Fatalf("length %d, want %d", s.Len(), len(want))
		}
		samples := make([][2]float64, 5000)
		for range rapid.IntRange(1, 30).Draw(t, "calls") {
			if rapid.Bool().Draw(t, "seek") {
				if err := s.Seek(rapid.IntRange(0, s.Len()).Draw(t, "to")); err != nil {
					t.Fatal(err)
				}
			}
			at := s.Position()
			asked := rapid.IntRange(1, len(samples)).Draw(t, "samples")
			n, ok := s.Stream(samples[:asked])
			if n != min(asked, s.Len()-at) || ok != (n > 0) || s.Position() != at+n {
				t.Fatalf("asked for %d at %d of %d: got %d, %v, now at %d", asked, at, s.Len(), n, ok, s.Position())
			}
			for i, x := range samples[:n] {
				if w := want[at+i] * Gain(volume); x != [2]float64{w, w} {
					t.Fatalf("frame %d is %v, want %v in both channels", at+i, x, w)
				}
			}
		}
	})
}

func TestStreamEnds(t *testing.T) {
	line := timeline(t, ordinary())
	s := New(line, with(defaultVolume))
	if want := frame(line.Duration) + 4*48000; s.Len() != want {
		t.Errorf("length %d, want %d", s.Len(), want)
	}
	for _, wrong := range []int{-1, s.Len() + 1} {
		if s.Seek(wrong) == nil || s.Position() != 0 {
			t.Errorf("seek to %d: no error, or moved to %d", wrong, s.Position())
		}
	}
	if n, ok := s.Stream(nil); n != 0 || !ok {
		t.Errorf("no samples asked for: %d, %v", n, ok)
	}
	if err := s.Seek(s.Len()); err != nil {
		t.Error(err)
	}
	if n, ok := s.Stream(make([][2]float64, 1)); n != 0 || ok || s.Err() != nil {
		t.Errorf("after the end: %d, %v, %v", n, ok, s.Err())
	}
}

func TestStreamingAllocatesNothing(t *testing.T) {
	s := New(timeline(t, flowing()), with(defaultVolume))
	samples := make([][2]float64, 4800)
	if n := testing.AllocsPerRun(s.Len()/len(samples)/2, func() { s.Stream(samples) }); n != 0 {
		t.Errorf("%v allocations a call", n)
	}
}

// levels returns those of all partials of a chord, by how many there are to the
// turn of its wave.
func (c *chord) levels() []float64 {
	found := make([]float64, 8)
	for times := range found {
		for j, x := range c.wave[1:] {
			found[times] += 2 * x * math.Sin(2*math.Pi*float64(times*(j+1))/(1<<waveBits)) / (1 << waveBits)
		}
	}
	return found
}

func TestPeaksStayInsideFullScale(t *testing.T) {
	// Tones do not overlap, nor do ticks.
	for name, c := range map[string]chord{"inhale": inhaling, "exhale": exhaling, "end mark": ended} {
		most := tickLevel
		for _, level := range c.levels() {
			most += level
		}
		if most > 1 {
			t.Errorf("%s with a tick: up to %v", name, most)
		}
	}
}

// steepest returns the largest step between two samples of a sine: around
// its zero crossing.
func steepest(hertz, level float64) float64 {
	return 2 * level * math.Sin(math.Pi*hertz/float64(SampleRate))
}

// No step between two samples is larger than all the sines then in use make
// together at their full levels and highest frequencies where they are
// steepest.
func TestNoClicks(t *testing.T) {
	for name, line := range wholeSessions(t) {
		s := newScore(line, with(100))
		allowed := make([]float64, s.frames)
		for _, tone := range s.tones {
			most := 0.0
			for times, level := range tone.chord.levels() {
				most += steepest(max(tone.chord.from, tone.chord.to)*float64(times)/float64(tone.chord.root), level)
			}
			for n := tone.start; n < tone.end; n++ {
				allowed[n] += most
			}
		}
		for _, start := range s.ticks {
			for n := start; n < start+tickLength; n++ {
				allowed[n] += steepest(noteB5, tickLevel)
			}
		}
		all := s.whole()
		for n := 1; n < len(all); n++ {
			if step := math.Abs(all[n] - all[n-1]); step > max(allowed[n-1], allowed[n]) {
				t.Fatalf("%s, frame %d: a step of %v, allowed %v", name, n, step, allowed[n])
			}
		}
	}
}
