package tuner

import (
	"bytes"
	"context"
	"fmt"
	"math"
	"reflect"
	"slices"
	"strings"
	"testing"
	"testing/synctest"
	"time"

	"pgregory.net/rapid"

	"glidepace/cmd/glidepace/internal/console"
	"glidepace/pacer"
	"glidepace/pacer/rate"
	"glidepace/sessions"
)

// listener is a Sound that keeps the inhales that it would have sounded.
type listener struct {
	Inhales []inhaleHeard
	Stands  time.Duration // once, when it is first asked for a moment after a minute

	timeline *pacer.Timeline
	began    time.Time
	made     time.Time
}

type inhaleHeard struct {
	at    time.Time
	rate  float64
	ratio sessions.Ratio
}

var _ pacer.Sound = (*listener)(nil)

// Play implements pacer.Sound.
func (l *listener) Play(t *pacer.Timeline) {
	l.Hush()
	l.timeline, l.began = t, time.Now()
	if l.made.IsZero() {
		l.made = l.began
	}
}

// Hush implements pacer.Sound.
func (l *listener) Hush() {
	if l.timeline == nil {
		return
	}
	for _, s := range l.timeline.Steps {
		at := l.began.Add(s.Onset())
		if s.Breath == pacer.Inhale && at.Before(time.Now()) {
			l.Inhales = append(l.Inhales, inhaleHeard{at, s.Rate, l.timeline.Session().Breath.Ratio})
		}
	}
	l.timeline = nil
}

// Heard implements pacer.Sound.
func (l *listener) Heard(d time.Duration) time.Time {
	if l.Stands > 0 && time.Since(l.made) > time.Minute {
		time.Sleep(l.Stands)
		l.Stands = 0
	}
	return l.began.Add(d)
}

// tuned is what became of a run of a tuner.
type tuned struct {
	end    Ending
	why    string
	tried  []rate.Stage
	text   string
	sound  *listener
	length time.Duration
	ended  time.Time
}

// oneTo is a breath of the given ratio, with half a second of pause.
func oneTo(rate, exhale float64) sessions.Breath {
	return sessions.Breath{Rate: rate, Ratio: sessions.Ratio{Inhale: 1, Exhale: exhale}, Pause: 500 * time.Millisecond}
}

// runTuner runs t from a rate, 1:1.5.
func runTuner(ctx context.Context, t *Tuner, from float64, presses ...any) tuned {
	return runTunerFrom(ctx, t, oneTo(from, 1.5), presses...)
}

// runTunerFrom runs t from a breath. What is pressed comes in pairs: when, from
// the start, and which keys.
func runTunerFrom(ctx context.Context, t *Tuner, start sessions.Breath, presses ...any) tuned {
	var text bytes.Buffer
	if t.Sound == nil {
		t.Sound = &listener{}
	}
	sound := t.Sound.(*listener)
	keys, over := make(chan rune), make(chan struct{})
	t.Keys, t.Screen = keys, console.NewStatusLine(&text)
	if t.Floor == 0 {
		t.Floor = 4.5
	}
	if t.Step == 0 {
		t.Step = DefaultStage
		if t.Steps {
			t.Step = DefaultStep
		}
	}
	began := time.Now()
	go func() {
		defer close(keys)
		for i := 0; i < len(presses); i += 2 {
			select {
			case <-time.After(time.Until(began.Add(presses[i].(time.Duration)))):
			case <-over:
			}
			for _, k := range presses[i+1].(string) {
				select {
				case keys <- k:
				case <-over:
					return
				}
			}
		}
		<-over // the terminal stays
	}()
	end, why := t.Run(ctx, start)
	close(over)
	synctest.Wait()
	return tuned{end, why, t.Tried, text.String(), sound, time.Since(began), time.Now()}
}

// checkBreaths fails where a breath that was paced differs by more than 5 %
// from the one before, or is not where the one before ends.
func (r tuned) checkBreaths(t *testing.T) {
	t.Helper()
	for i := 1; i < len(r.sound.Inhales); i++ {
		a, b := r.sound.Inhales[i-1], r.sound.Inhales[i]
		if q := b.rate / a.rate; q > 1.05+1e-9 || q < 1/1.05-1e-9 {
			t.Errorf("breath %d at %g a minute, the next at %g", i, a.rate, b.rate)
		}
		if b.ratio != a.ratio && math.Abs(b.rate-a.rate) > 1e-9 {
			t.Errorf("breath %d: rate and ratio change together", i)
		}
		if length := b.at.Sub(a.at).Seconds(); math.Abs(length-60/a.rate) > 1e-6 {
			t.Errorf("breath %d at %g a minute lasts %v s", i, a.rate, length)
		}
	}
	if r.sound.timeline != nil {
		t.Error("it sounds on")
	}
}

// stages writes stages in short, without their lengths.
func stages(list []rate.Stage) (short []string) {
	for _, s := range list {
		text := breathWords(sessions.Breath{Rate: s.Rate, Ratio: s.Ratio})
		for _, c := range s.Comfort {
			text += fmt.Sprintf(" %d", c)
		}
		if s.Whole {
			text += " whole"
		}
		if s.LightHeaded {
			text += " light-headed"
		}
		short = append(short, text)
	}
	return short
}

func (r tuned) check(t *testing.T, end Ending, why string, want ...string) {
	t.Helper()
	r.checkBreaths(t)
	if r.end != end || r.why != why {
		t.Errorf("it ends with %d because %q, want %d because %q", r.end, r.why, end, why)
	}
	if got := stages(r.tried); !reflect.DeepEqual(got, want) {
		t.Errorf("tried were %q, want %q", got, want)
	}
	if t.Failed() {
		t.Log(r.text)
	}
}

// mentions fails where a text is not among what was written.
func (r tuned) mentions(t *testing.T, texts ...string) {
	t.Helper()
	for _, text := range texts {
		if !strings.Contains(r.text, text) {
			t.Errorf("%q is never said:\n%s", text, r.text)
		}
	}
}

const second = time.Second

// Led by keys: it asks a minute after a rate is reached, offers the next, and
// asks whenever a number is pressed.
func TestTunerLedByKeys(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		r := runTuner(t.Context(), &Tuner{}, 14,
			59*second, "s", // too early to be asked
			// The next inhale is at 60 s. Two breaths longer by 3.9 % each lead
			// to 12.5 a minute: it is reached at 69.1 s.
			125*second, "s", // again before the question
			155*second, "7n", // a number is taken at any time
			216*second, "9", 217*second, "n", // the question, when the minute is over
			218*second, "fw")
		r.check(t, Write, "", "14 a minute, 1:1.5", "12.5 a minute, 1:1.5", "11.5 a minute, 1:1.5 7 9 whole")
		r.mentions(t, "Going to 12.5 a minute, 1:1.5, in 3 small steps.", "Comfort 7, where 10 is the best. Light-headed or short of breath?",
			"Kept. It asks again at 1:00;", "Most comfortable so far: 11.5 a minute, 1:1.5.", "Slower? s goes on to 10.5.", "How comfortable is it? 0 is not at all, 10 is the best.")
		if n := strings.Count(r.text, "How comfortable"); n != 1 {
			t.Errorf("comfort was asked for %d times, want once", n)
		}
		if got := r.tried[0].Seconds; got != 59 {
			t.Errorf("14 a minute was kept up for %v s, want 59", got)
		}
	})
}

// By itself: from where the person breathes, by 1 a minute at most, two minutes
// a step from where each is reached, down to the lowest.
func TestTunerSteps(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		var presses []any
		for i := range 70 { // an answer every 31 s, where there is a question
			presses = append(presses, time.Duration(31*(i+4))*second, "n8n")
		}
		r := runTuner(t.Context(), &Tuner{Steps: true}, 14, presses...)
		want := []float64{14, 13, 12, 11, 10, 9, 8, 7, 6.5, 6, 5.5, 5, 4.5}
		if r.end != Over || r.why != "4.5 a minute is the lowest that is offered" || len(r.tried) != len(want) {
			t.Fatalf("it ends with %d because %q after %q", r.end, r.why, stages(r.tried))
		}
		r.checkBreaths(t)
		for i, s := range r.tried {
			if s.Rate != want[i] || s.Seconds < 120 || s.Seconds > 160 || !s.Whole {
				t.Errorf("step %d: %g a minute for %v s, whole %t", i, s.Rate, s.Seconds, s.Whole)
			}
		}
		r.mentions(t, "Going to 13 a minute, 1:1.5, in 2 small steps.")
	})
}

// A question comes a minute after a step is reached, and again when the step is
// over or after another minute, whichever is first.
func TestTunerAsksEveryMinute(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		for length, asked := range map[time.Duration]int{59 * second: 0, 61 * second: 1, 129 * second: 1, 131 * second: 2, 149 * second: 2, 151 * second: 3} {
			ctx, cancel := context.WithTimeout(t.Context(), length)
			r := runTuner(ctx, &Tuner{Steps: true, Step: 150 * second}, 7, 70*second, "8n", 132*second, "8n")
			cancel()
			if n := strings.Count(r.text, "How comfortable"); n != asked {
				t.Errorf("in %v it asked %d times, want %d", length, n, asked)
			}
		}
	})
}

func TestTunerGoesNoLower(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		// In steps a fall by 2 is the end, at the first question of the step.
		r := runTuner(t.Context(), &Tuner{Steps: true}, 7,
			70*second, "8n", 131*second, "9n", 215*second, "7n", 400*second, "q")
		r.check(t, Over, "comfort fell from 9 to 7 at 6.5 a minute", "7 a minute, 1:1.5 8 9 whole", "6.5 a minute, 1:1.5 7")
		if r.length > 216*second {
			t.Errorf("it went on for %v", r.length)
		}

		// Led by keys the person goes on, but not to that rate again.
		r = runTuner(t.Context(), &Tuner{}, 7,
			5*second, "8n", 10*second, "s", 60*second, "6n", 61*second, "s", 62*second, "f", 140*second, "9ns", 151*second, "w")
		r.check(t, Write, "", "7 a minute, 1:1.5 8", "6.5 a minute, 1:1.5 6", "7 a minute, 1:1.5 9 whole")
		r.mentions(t, "No slower from here: comfort fell from 8 to 6 at 6.5 a minute.", "No slower: comfort fell from 8 to 6 at 6.5 a minute.")
	})
}

// The keys go down the steps too; under 6 a minute only from a step that was
// tried for its whole time. A rate is not rated on the way to it, and no key
// waits there.
func TestTunerStepsByKeys(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		r := runTuner(t.Context(), &Tuner{Steps: true}, 7,
			5*second, "8ns", 10*second, "8sss", // 6.5 is reached at 17.5 s
			60*second, "7ns", // 6 is reached at 73.2 s
			100*second, "7ns", 200*second, "8n", 220*second, "q")
		r.check(t, Left, "", "7 a minute, 1:1.5 8", "6.5 a minute, 1:1.5 7", "6 a minute, 1:1.5 7 8 whole", "5.5 a minute, 1:1.5")
		r.mentions(t, "Not yet: the breath is still on its way to 6.5 a minute, 1:1.5.",
			"No slower: a step under 6 a minute comes only after this rate was tried for its whole time and rated.")
		if n := strings.Count(r.text, "Not yet"); n != 1 {
			t.Errorf("%d lines say that it is on the way, want one", n)
		}
	})
}

// Keys that came in a row once led to a breath that no limit allows, and to 3
// a minute without a question: d was slower then.
func TestTunerKeysInARow(t *testing.T) {
	for _, keys := range []string{"iiiiiiiiiidddddd", "iiiiiiiiiissssss"} {
		synctest.Test(t, func(t *testing.T) {
			r := runTunerFrom(t.Context(), &Tuner{}, oneTo(6, 4), 5*second, keys, 600*second, "q")
			r.check(t, Left, "", "6 a minute, 1:4", "6 a minute, 1:3.9")
		})
	}
	synctest.Test(t, func(t *testing.T) {
		r := runTuner(t.Context(), &Tuner{}, 6, 5*second, strings.Repeat("ds", 10), 600*second, "q")
		r.check(t, Left, "", "6 a minute, 1:1.5")

		// Nor one by one, each when the rate before is there.
		var presses []any
		for i := range 20 {
			presses = append(presses, time.Duration(50*(i+1))*second, "ds")
		}
		r = runTuner(t.Context(), &Tuner{}, 9, append(presses, 1300*second, "q")...)
		r.check(t, Left, "", "9 a minute, 1:1.5", "8 a minute, 1:1.5", "7 a minute, 1:1.5", "6.5 a minute, 1:1.5", "6 a minute, 1:1.5")
	})
}

// Nobody is paced on who is light-headed, whenever they say so.
func TestTunerLightHeaded(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		r := runTuner(t.Context(), &Tuner{Steps: true}, 7, 70*second, "8y")
		r.check(t, Over, "light-headed or short of breath at 7 a minute", "7 a minute, 1:1.5 8 light-headed")
		r.mentions(t, "Leave the pacing now. Breathe as you like, and sit until it has passed.")

		r = runTuner(t.Context(), &Tuner{}, 7, 5*second, "8n", 30*second, "b")
		r.check(t, Over, "light-headed or short of breath at 7 a minute", "7 a minute, 1:1.5 8 light-headed")
		if r.length != 30*second {
			t.Errorf("it went on for %v after the key", r.length-30*second)
		}

		// What ended it is said, not what spoke against a lower rate before.
		r = runTuner(t.Context(), &Tuner{}, 7, 5*second, "8n", 10*second, "6n", 30*second, "b")
		r.check(t, Over, "light-headed or short of breath at 7 a minute", "7 a minute, 1:1.5 8 6 light-headed")

		// On the way it counts at the rate under way: from 14 towards 12.5 in
		// three breaths the second is at 14·(12.5/14)^(2/3) = 12.98.
		r = runTuner(t.Context(), &Tuner{}, 14, 5*second, "8n", 10*second, "s", 20*second, "b")
		r.check(t, Over, "light-headed or short of breath at 12.98 a minute", "14 a minute, 1:1.5 8", "12.98 a minute, 1:1.5 light-headed")

		// Between the key and the next inhale the breath under way is still
		// that of the stage before, which so is not recommended.
		r = runTuner(t.Context(), &Tuner{}, 6.24, 65*second, "8n", 66*second, "s", 67*second, "b")
		r.check(t, Over, "light-headed or short of breath at 6.24 a minute", "6.24 a minute, 1:1.5 8 whole", "6.24 a minute, 1:1.5 light-headed")
		if best, ok := rate.Recommend(r.tried); ok {
			t.Errorf("recommended is %+v", best)
		}
	})
}

// Enter stops at once, as in a session, on the way and while a question is
// open too; then it asks, for as long as it takes.
func TestTunerStops(t *testing.T) {
	for name, c := range map[string]struct {
		presses []any
		end     Ending
		why     string
		stages  []string
	}{
		"nothing of these": {[]any{30 * second, "\n", 90 * second, "n"}, Over, "stopped at 14 a minute", []string{"14 a minute, 1:1.5"}},
		"light-headed":     {[]any{30 * second, "\r", 90 * second, "y"}, Over, "light-headed or short of breath at 14 a minute", []string{"14 a minute, 1:1.5 light-headed"}},
		"left":             {[]any{30 * second, "\n", 90 * second, "q"}, Left, "", []string{"14 a minute, 1:1.5"}},
		"on the way":       {[]any{25 * second, "s", 30 * second, "\n", 90 * second, "n"}, Over, "stopped at 13.5 a minute", []string{"14 a minute, 1:1.5"}},
		"while asked":      {[]any{10 * second, "8", 30 * second, "\n", 90 * second, "7sn"}, Over, "stopped at 14 a minute", []string{"14 a minute, 1:1.5"}},
		"begun twice":      {[]any{1 * second, "\n", 30 * second, "\n", 90 * second, "n"}, Over, "stopped at 14 a minute", []string{"14 a minute, 1:1.5"}},
	} {
		t.Run(name, func(t *testing.T) {
			synctest.Test(t, func(t *testing.T) {
				r := runTuner(t.Context(), &Tuner{}, 14, c.presses...)
				r.check(t, c.end, c.why, c.stages...)
				// 30 s hold 7 breaths at 14 a minute; on the way 6, and one of
				// 13.48 a minute.
				if n := len(r.sound.Inhales); n != 7 && n != 8 {
					t.Errorf("%d inhales were heard in 30 s", n)
				}
				if last := r.tried[len(r.tried)-1].Seconds; last != 30 && last != 25 {
					t.Errorf("the stage lasted %v s", last)
				}
				r.mentions(t, "Stopped. Breathe as you like. Light-headed or short of breath? y or n")
			})
		})
	}
}

// A ratio changes by one step at a time, and holds up the next until it is
// there.
func TestTunerRatio(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		r := runTuner(t.Context(), &Tuner{}, 12,
			7*second, "eee", 12*second, "e", 17*second, "e", 90*second, "7n", 91*second, "i", 96*second, "s", 170*second, "8n", 171*second, "w")
		r.check(t, Write, "", "12 a minute, 1:1.5", "12 a minute, 1:1.6", "12 a minute, 1:1.7", "12 a minute, 1:1.8 7 whole", "12 a minute, 1:1.7", "11 a minute, 1:1.7 8 whole")
		var ratios []float64
		for _, i := range r.sound.Inhales[:6] {
			ratios = append(ratios, i.ratio.Exhale)
		}
		// The inhales are at 0, 5, 10 … s.
		if want := []float64{1.5, 1.5, 1.6, 1.7, 1.8, 1.8}; !reflect.DeepEqual(ratios, want) {
			t.Errorf("exhales of the first breaths were %v, want %v", ratios, want)
		}
	})
}

func TestTunerLimits(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		r := runTuner(t.Context(), &Tuner{}, 30, 65*second, "7nf", 70*second, "w")
		r.check(t, Write, "", "30 a minute, 1:1.5 7 whole")
		r.mentions(t, "That is the limit: 30 a minute, 1:1.5.")

		// Of a breath at 3 a minute 19.5 s are inhale and exhale: at 1:3.3 the
		// exhale takes 14.97 s, at 1:3.4 it would take 15.07 s.
		presses := []any{65 * second, "7ns"}
		for i := range 25 {
			presses = append(presses, time.Duration(70+21*i)*second, "e")
		}
		r = runTuner(t.Context(), &Tuner{Floor: 3}, 3, append(presses, 600*second, "w")...)
		r.checkBreaths(t)
		r.mentions(t, "No slower: 3 a minute is the lowest that is offered.", "Not possible: the exhale lasts 15.07 s at 3 breaths a minute")
		if last := r.tried[len(r.tried)-1]; last.Ratio.Exhale != 3.3 {
			t.Errorf("the longest exhale is 1:%g, want 1:3.3", last.Ratio.Exhale)
		}

		// By itself too: 1:10 fits into a breath at 4 a minute and not at 3.5,
		// where (60/3.5 − 0.5)·10/11 = 15.13 s would be exhale.
		r = runTunerFrom(t.Context(), &Tuner{Floor: 3, Steps: true, Step: 30 * second}, oneTo(4, 10), 31*second, "7n")
		r.check(t, Over, "the exhale lasts 15.13 s at 3.5 breaths a minute: from 0.5 s to 15 s is allowed", "4 a minute, 1:10 7 whole")
	})
}

func TestTunerIsLeft(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		r := runTuner(t.Context(), &Tuner{}, 14, 5*second, "w", 6*second, "q")
		r.check(t, Left, "", "14 a minute, 1:1.5")
		r.mentions(t, "Nothing to write yet: a rate must be tried for 1:00 and then rated.")

		ctx, cancel := context.WithTimeout(t.Context(), 10*second)
		defer cancel()
		runTuner(ctx, &Tuner{}, 14).check(t, Left, "", "14 a minute, 1:1.5")

		// Half an answer is none, and one before the minute is over not enough.
		r = runTuner(t.Context(), &Tuner{}, 14, 65*second, "8w", 67*second, "q")
		r.check(t, Left, "", "14 a minute, 1:1.5")
		r = runTuner(t.Context(), &Tuner{}, 14, 59*second, "8nw", 67*second, "q")
		r.check(t, Left, "", "14 a minute, 1:1.5 8")
	})
}

// Digits after the first correct it; 1 and 0 make 10, however slowly. Keys
// that mean something in a session and nothing here do nothing.
func TestTunerComfort(t *testing.T) {
	for pressed, want := range map[string]string{
		"0n": " 0", "1n": " 1", "10n": " 10", "9n": " 9", "89n": " 9", "810n": " 10", "1s0n": " 10", "100n": " 0", "n8n": " 8", "8dup n": " 8", "8sn": " 8",
	} {
		synctest.Test(t, func(t *testing.T) {
			r := runTuner(t.Context(), &Tuner{}, 14, 65*second, pressed, 66*second, "w")
			r.check(t, Write, "", "14 a minute, 1:1.5"+want+" whole")
		})
	}
}

// Where nobody presses the keys, a line lasts until the next question.
func TestTunerPipedKeys(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		r := runTuner(t.Context(), &Tuner{Piped: true}, 14, 0*second, "\n7n\n8\nn\n9nw\n")
		r.check(t, Write, "", "14 a minute, 1:1.5 7 8 9 whole")
		if r.length != 3*time.Minute {
			t.Errorf("it took %v, want 3 questions a minute apart", r.length)
		}
	})
}

// Nobody is paced for ever, nor is a rate said to be tried while the
// computer slept.
func TestTunerEndsByItself(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		r := runTuner(t.Context(), &Tuner{}, 6, 65*second, "7n", 90*time.Minute, "w")
		r.check(t, Over, "20 minutes at one rate are enough", "6 a minute, 1:1.5 7 whole")
		if n := len(r.sound.Inhales); n != 120 || r.length < 20*time.Minute || r.length > 20*time.Minute+second {
			t.Errorf("%d breaths in %v", n, r.length)
		}

		r = runTuner(t.Context(), &Tuner{Sound: &listener{Stands: 10 * second}, Step: 2 * time.Minute}, 14, 125*second, "7nw")
		r.check(t, Over, "the computer stood still, and the pacing with it", "14 a minute, 1:1.5")
	})
}

// Whatever is pressed and whenever, every breath that is paced keeps the hard
// limits; none is slower than the floor; none goes under 6 a minute but from a
// stage above it of its whole length, rated, with comfort not fallen and the
// head not light; by itself no step is over 1 a minute; and nothing is
// recommended that was not kept up for its whole length.
func TestTunerWhateverIsPressed(t *testing.T) {
	const step = 20 * second
	slow := 0 // runs that went under 6 a minute
	rapid.Check(t, func(rt *rapid.T) {
		tuner := &Tuner{Step: step, Steps: rapid.Bool().Draw(rt, "steps"), Floor: rapid.SampledFrom([]float64{4.5, 4.5, 3, 5.8}).Draw(rt, "floor")}
		highest := rapid.SampledFrom([]float64{6.5, 8, 30}).Draw(rt, "highest")
		start := oneTo(rapid.Float64Range(tuner.Floor, highest).Draw(rt, "from"), rapid.SampledFrom([]float64{1, 1.5, 4, 9.5}).Draw(rt, "exhale"))
		if rapid.Bool().Draw(rt, "inhale longer") {
			start.Ratio.Inhale, start.Ratio.Exhale = start.Ratio.Exhale, start.Ratio.Inhale
		}
		if _, err := pacer.AtRest(start, 1); err != nil {
			start.Ratio = sessions.Ratio{Inhale: 1, Exhale: 1.5}
		}
		var presses []any
		at := second
		trains := rapid.SampledFrom([]string{"s", "s", "sssss", "8n", "8n", "9n", "7n", "8ns", "7ns", "5n", "10n", "8", "n", "f", "e", "i", "eeee", "iiii", "dup \x00"})
		for range rapid.IntRange(1, 60).Draw(rt, "presses") {
			at += time.Duration(rapid.IntRange(0, 40).Draw(rt, "after")) * second
			presses = append(presses, at, trains.Draw(rt, "keys"))
		}
		end := rapid.SampledFrom([]string{"q", "w", "b", "y", "\nn", "\ny"}).Draw(rt, "end")
		var r tuned
		synctest.Test(t, func(t *testing.T) {
			r = runTunerFrom(t.Context(), tuner, start, append(presses, at+second, end, at+2*second, "q")...)
			r.checkBreaths(t)
		})
		for _, i := range r.sound.Inhales {
			inhale := (60/i.rate - 0.5) * i.ratio.Inhale / (i.ratio.Inhale + i.ratio.Exhale)
			exhale := 60/i.rate - 0.5 - inhale
			const e = 1e-6
			if i.rate < max(3, tuner.Floor)-e || i.rate > 30+e || inhale < 0.5-e || inhale > 15+e || exhale < 0.5-e || exhale > 15+e {
				rt.Fatalf("a breath at %v a minute, %v: inhale %v s, exhale %v s", i.rate, i.ratio, inhale, exhale)
			}
		}
		tried := r.tried
		if last := r.sound.Inhales[len(r.sound.Inhales)-1]; !tried[len(tried)-1].LightHeaded {
			tried = append(slices.Clone(tried), rate.Stage{Rate: last.rate, Ratio: last.ratio}) // it may have been on its way
		}
		for i, to := range tried {
			if i == 0 || to.Rate > tried[i-1].Rate-1e-6 {
				continue
			}
			from := tried[i-1]
			if tuner.Steps && from.Rate-to.Rate > 1+1e-6 {
				rt.Fatalf("from %v to %v a minute in one step", from.Rate, to.Rate)
			}
			if to.Rate > 6-1e-6 {
				continue
			}
			slow++
			best := 0
			for _, s := range tried[:i] {
				for _, c := range s.Comfort {
					if s.Rate == from.Rate && c <= best-2 {
						rt.Fatalf("from %v to %v a minute after comfort fell from %d to %d", from.Rate, to.Rate, best, c)
					}
					if s.Rate >= from.Rate {
						best = max(best, c)
					}
				}
			}
			if len(from.Comfort) == 0 || r.longest(from) < step || from.LightHeaded {
				rt.Fatalf("from %+v, heard for %v, to %v a minute", from, r.longest(from), to.Rate)
			}
		}
		if best, ok := rate.Recommend(r.tried); ok && (len(best.Comfort) == 0 || r.longest(best) < step) {
			rt.Fatalf("recommended is %+v, heard for %v", best, r.longest(best))
		}
	})
	t.Logf("%d steps under 6 a minute", slow)
	if slow == 0 {
		t.Error("no run went under 6 a minute: nothing was tested")
	}
}

// longest is how long the breath of a stage was heard without a change.
func (r tuned) longest(s rate.Stage) (longest time.Duration) {
	heard := r.sound.Inhales
	for i := 0; i < len(heard); i++ {
		began := heard[i].at
		for i < len(heard) && heard[i].ratio == s.Ratio && math.Abs(heard[i].rate-s.Rate) < 1e-9 {
			i++
		}
		if i == len(heard) {
			longest = max(longest, r.ended.Sub(began))
		} else {
			longest = max(longest, heard[i].at.Sub(began))
		}
	}
	return longest
}

func TestStartBreath(t *testing.T) {
	given := func(inhale, exhale time.Duration) sessions.Breath {
		return sessions.Breath{Inhale: inhale, Exhale: exhale, Pause: 300 * time.Millisecond, Match: sessions.BreathPerRep}
	}
	for _, c := range []struct {
		b    sessions.Breath
		want sessions.Ratio
	}{
		{sessions.Breath{Rate: 8, Ratio: sessions.Ratio{Inhale: 2, Exhale: 3}, Taper: &sessions.Taper{From: 12, Breaths: 9}}, sessions.Ratio{Inhale: 2, Exhale: 3}},
		{given(3*second, 4*second), sessions.Ratio{Inhale: 1, Exhale: 1.33}},
		{given(4*second, 3*second), sessions.Ratio{Inhale: 1.33, Exhale: 1}},
		{given(4*second, 4*second), sessions.Ratio{Inhale: 1, Exhale: 1}},
		{given(500*time.Millisecond, 15*second), sessions.Ratio{Inhale: 1, Exhale: 10}},
	} {
		got := StartBreath(c.b, 14)
		if want := (sessions.Breath{Match: c.b.Match, Pause: c.b.Pause, Rate: 14, Ratio: c.want}); got != want {
			t.Errorf("of %+v: %+v, want %+v", c.b, got, want)
		}
	}
}
