package sounds

import (
	"math"
	"math/cmplx"
	"slices"
	"testing"
	"time"

	"gonum.org/v1/gonum/dsp/fourier"
	"pgregory.net/rapid"

	"glidepace/pacer"
	"glidepace/sessions"
	"glidepace/sessions/glides"
)

var defaultVolume = sessions.DefaultSounds.Volume

// with returns settings for tones and ticks at a volume.
func with(volume int) Settings {
	return Settings{Parts: sessions.Parts{Tones: true, Ticks: true}, Volume: volume}
}

// ordinary is a session with every kind of step in it: lead-in, set-up, two
// sets, a shake.
func ordinary() *sessions.Session {
	return &sessions.Session{
		Posture: sessions.PostureNone,
		Title:   "Ordinary",
		Breath: sessions.Breath{
			Rate: 6, Ratio: sessions.Ratio{Inhale: 1, Exhale: 1.5}, Pause: 500 * time.Millisecond,
		},
		LeadIn: 2,
		Exercises: []sessions.Exercise{{
			Glide: glides.Glide{Name: "wrist"}, Side: sessions.Right,
			Sets: 2, Reps: 3, Rest: 6 * time.Second, SetUp: 4 * time.Second,
		}},
	}
}

// flowing is ordinary with the breath going on through the movement's pauses.
func flowing() *sessions.Session {
	s := ordinary()
	s.Breath.Match = sessions.BreathPerRep
	s.Exercises[0].BothEnds = true
	return s
}

func timeline(t testing.TB, s *sessions.Session) *pacer.Timeline {
	t.Helper()
	line, err := pacer.New(s)
	if err != nil {
		t.Fatal(err)
	}
	return line
}

// both calls f with a timeline of each way to match breath and movement.
func both(t *testing.T, f func(t *testing.T, line *pacer.Timeline)) {
	for _, s := range []*sessions.Session{ordinary(), flowing()} {
		t.Run(s.Breath.Match.String(), func(t *testing.T) { f(t, timeline(t, s)) })
	}
}

// anyTimeline draws a timeline with steps far shorter than a session has.
func anyTimeline(t *rapid.T) *pacer.Timeline {
	line := &pacer.Timeline{}
	for range rapid.IntRange(0, 8).Draw(t, "steps") {
		s := pacer.Step{
			Start:        line.Duration,
			Duration:     rapid.Float64Range(1e-6, 0.4).Draw(t, "duration"),
			Breath:       rapid.SampledFrom([]pacer.Breath{pacer.Free, pacer.Inhale, pacer.Exhale, pacer.BreathPause}).Draw(t, "breath"),
			Exercise:     rapid.IntRange(0, 1).Draw(t, "exercise"),
			BreathNumber: rapid.IntRange(0, 1).Draw(t, "number"),
		}
		if s.Breath == pacer.Free {
			s.Move = rapid.SampledFrom([]pacer.Move{pacer.SetUp, pacer.Shake}).Draw(t, "move")
		}
		line.Steps = append(line.Steps, s)
		line.Duration = s.End()
	}
	return line
}

// whole returns all samples of one channel at full volume.
func (s *score) whole() []float64 {
	all := make([]float64, s.frames)
	s.fill(all, 0)
	return all
}

// withoutTicks returns the score of the tones alone.
func withoutTicks(line *pacer.Timeline) *score {
	s := newScore(line, with(100))
	s.ticks = nil
	return s
}

// span returns the frames of a step.
func span(line *pacer.Timeline, i int) (from, to int) {
	end := line.Duration
	if i+1 < len(line.Steps) {
		end = line.Steps[i+1].Start
	}
	return frame(line.Steps[i].Start), frame(end)
}

func silent(samples []float64) bool {
	return !slices.ContainsFunc(samples, func(x float64) bool { return x != 0 })
}

// powers returns the power spectrum of samples under a Hann window, from 0 Hz
// on, of a transform of length n.
func powers(samples []float64, n int) (bins []float64) {
	windowed := make([]float64, n)
	for i, x := range samples {
		windowed[i] = x * (1 - math.Cos(2*math.Pi*float64(i)/float64(len(samples))))
	}
	for _, c := range fourier.NewFFT(n).Coefficients(nil, windowed) {
		bins = append(bins, math.Pow(cmplx.Abs(c), 2))
	}
	return bins
}

type peak struct{ hertz, power float64 }

// spectrum returns the peaks of a spectrum that are at most down decibels
// under the highest, by frequency.
func spectrum(samples []float64, down float64) []peak {
	bins := powers(samples, len(samples))
	var peaks []peak
	floor := slices.Max(bins) * math.Pow(10, -down/10)
	for k := 1; k+1 < len(bins); k++ {
		if bins[k] > floor && bins[k] > bins[k-1] && bins[k] >= bins[k+1] {
			// A parabola through the logarithms finds the place between bins.
			l, m, r := math.Log(bins[k-1]), math.Log(bins[k]), math.Log(bins[k+1])
			at := float64(k) + (l-r)/(l-2*m+r)/2
			peaks = append(peaks, peak{at * float64(SampleRate) / float64(len(samples)), bins[k]})
		}
	}
	return peaks
}
