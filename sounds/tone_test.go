package sounds

import (
	"math"
	"slices"
	"testing"
	"time"

	"glidepace/pacer"
	"glidepace/sessions"
)

// long returns the tones of a breath of 9 s each way.
func long(t *testing.T) (inhale, exhale []float64) {
	s := ordinary()
	s.Breath = sessions.Breath{Inhale: 9 * time.Second, Exhale: 9 * time.Second, Pause: 500 * time.Millisecond}
	all := withoutTicks(timeline(t, s)).whole()
	return all[:9*SampleRate], all[9*SampleRate : 18*SampleRate]
}

// Notes as in ISO 16 and equal temperament: G4 391.9954 Hz, C5 523.2511, a
// semitone 2^(1/12). Over a tone its frequencies go by a major third, up in the
// inhale and down in the exhale, in a straight line, and all together.
func TestNotes(t *testing.T) {
	third := math.Pow(2, 4./12)
	inhale, exhale := long(t)
	mark := withoutTicks(&pacer.Timeline{}).whole()
	const half = 1 << 13 // frames each side of the moment: 3 Hz a bin
	for _, c := range []struct {
		name     string
		samples  []float64
		from, to float64
		partials []float64
	}{
		{"inhale", inhale, 391.9954, 391.9954 * third, []float64{1, 3. / 2, 3}},
		{"exhale", exhale, 391.9954 * third, 391.9954, []float64{1, 4. / 3, 2}},
		{"end mark", mark[:endMarkLength], 523.2511, 523.2511, []float64{1, 3. / 2, 2}},
	} {
		for _, x := range []float64{0.15, 0.5, 0.85} {
			at := int(x * float64(len(c.samples)))
			var got, want []float64
			for _, p := range spectrum(c.samples[at-half:at+half], 40) {
				got = append(got, p.hertz)
			}
			for _, p := range c.partials {
				want = append(want, p*(c.from+x*(c.to-c.from)))
			}
			near := func(a, b float64) bool { return math.Abs(a-b) < 0.3 }
			if !slices.EqualFunc(got, want, near) {
				t.Errorf("%s sounds at %.2f Hz, want %.2f", c.name, got, want)
			}
		}
	}
	tick := spectrum(append(make([]float64, 1<<15), tickSamples[:]...), 20)
	if len(tick) == 0 || math.Abs(tick[0].hertz-440*math.Pow(2, 14./12)) > 5 {
		t.Errorf("the tick sounds at %v", tick)
	}
	for _, f := range []float64{noteG4, noteB4 * 3 / 2, noteC5 * 3 / 2, noteB5} {
		if f < 200 || f > 1000 {
			t.Errorf("a fundamental of %.1f Hz", f)
		}
	}
}

// A tone is exact to its end, however long: within a tenth of what a 16-bit
// sample can say.
func TestToneIsExact(t *testing.T) {
	const frames = 15 * 48000
	for _, tone := range []tone{newTone(&inhaling, 0, frames), newTone(&exhaling, 0, frames)} {
		c, got, worst := tone.chord, make([]float64, frames), 0.0
		tone.write(got, 0)
		levels := c.levels()
		for n := edge; n < frames-edge; n++ {
			s := float64(n) / 48000
			turns := (c.from*s + (c.to-c.from)*s*s/2/15) / float64(c.root)
			want := 0.0
			for times, level := range levels {
				want += level * math.Sin(2*math.Pi*math.Mod(float64(times)*turns, 1))
			}
			worst = max(worst, math.Abs(got[n]-want))
		}
		if worst > 1./(1<<15)/10 {
			t.Errorf("%d to the turn: up to %g from the sines", c.root, worst)
		}
	}
}

func TestToneFollowsTheBreath(t *testing.T) {
	both(t, func(t *testing.T, line *pacer.Timeline) {
		all := withoutTicks(line).whole()
		for i, step := range line.Steps {
			from, to := span(line, i)
			samples := all[from:to]
			switch {
			case step.Breath == pacer.BreathPause, step.Move == pacer.SetUp:
				if !silent(samples) {
					t.Errorf("step %d, breath %v, move %v: not silent", i, step.Breath, step.Move)
				}
			case step.Move == pacer.Shake:
				if silent(samples[:endMarkLength]) || !silent(samples[endMarkLength:]) {
					t.Errorf("step %d: not an end mark and then silence", i)
				}
			default: // sound, except at the edges
				for n := edge; n+edge < len(samples); n += 480 {
					if silent(samples[n : n+480]) {
						t.Errorf("step %d, breath %v: silent at frame %d", i, step.Breath, n)
					}
				}
			}
		}
		tail := all[frame(line.Duration):]
		if silent(tail[:endMarkLength]) || !silent(tail[endMarkLength:]) {
			t.Error("the tail is not an end mark and then silence")
		}
	})
}

func TestNothingLeftIsTheEndMarkAlone(t *testing.T) {
	line := timeline(t, ordinary())
	line = line.Enough(len(line.Steps) - 1)
	if all := newScore(line, with(100)).whole(); len(all) != tailFrames || silent(all) {
		t.Errorf("%d frames, silent: %v", len(all), silent(all))
	}
}

func TestBreathThatFlowsOnIsOneTone(t *testing.T) {
	line := timeline(t, flowing())
	s := withoutTicks(line)
	all := s.whole()
	// Lead-in 2 breaths; in each of 2 sets an inhale and a tone for each of 3
	// repetitions; 2 end marks.
	if want := 2*2 + 2*(1+3) + 2; len(s.tones) != want {
		t.Errorf("%d tones, want %d", len(s.tones), want)
	}
	for i, step := range line.Steps {
		if step.Move != pacer.MovePause {
			continue
		}
		turn, to := span(line, i)
		if next := i + 1; next == len(line.Steps) || line.Steps[next].Breath != step.Breath {
			to -= edge
		}
		// As loud in the pause as before it.
		before, in := power(all[turn-edge:turn]), power(all[turn:to])
		if in < 0.8*before || in > 1.25*before {
			t.Errorf("step %d: power %v before the turn, %v in the pause", i, before, in)
		}
	}
}

func TestShortTonesKeepSmoothEdges(t *testing.T) {
	tone := newTone(&inhaling, 0, 1000)
	if attack, release := tone.edges(); attack != 500 || release != 500 {
		t.Errorf("edges of %d and %d frames", attack, release)
	}
	mark := newEndMark(0, 7200)
	if attack, release := mark.edges(); attack != 480 || release != 6720 {
		t.Errorf("edges of %d and %d frames", attack, release)
	}
}

// Medical alarms are bursts of pulses of a fundamental from 150 to 1000 Hz
// with four or more harmonics from 300 to 4000 Hz (IEC 60601-1-8, as in a
// secondary text). harmonics returns how many the richest fundamental in
// samples has, itself included.
func harmonics(samples []float64) (most int) {
	peaks := spectrum(samples, 20)
	for _, f := range peaks {
		if f.hertz < 150 || f.hertz > 1000 {
			continue
		}
		found := map[float64]bool{}
		for _, p := range peaks {
			k := p.hertz / f.hertz
			if p.hertz >= 300 && p.hertz <= 4000 && math.Abs(k-math.Round(k)) < 0.01*k {
				found[math.Round(k)] = true
			}
		}
		most = max(most, len(found))
	}
	return most
}

func TestNothingSoundsLikeAnAlarm(t *testing.T) {
	const window = 1 << 13
	alarm := make([]float64, window)
	for n := range alarm {
		for k := 1.; k <= 4; k++ {
			alarm[n] += math.Sin(2*math.Pi*440*k*float64(n)/float64(SampleRate)) / k
		}
	}
	if n := harmonics(alarm); n != 4 {
		t.Fatalf("%d harmonics found in an alarm", n)
	}
	both(t, func(t *testing.T, line *pacer.Timeline) {
		all := newScore(line, with(100)).whole()
		for n := 0; n+window <= len(all); n += window / 2 {
			if silent(all[n : n+window]) {
				continue
			}
			if h := harmonics(all[n : n+window]); h >= 4 {
				t.Errorf("%d harmonics at %.1f s", h, float64(n)/float64(SampleRate))
			}
		}
	})
}
