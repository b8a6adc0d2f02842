package main

import (
	"bytes"
	"context"
	"errors"
	"io/fs"
	"math"
	"os"
	"path/filepath"
	"reflect"
	"runtime"
	"strings"
	"testing"
	"testing/synctest"
	"time"

	"glidepace/pacer"
	"glidepace/sessions"
)

// listener is a Sound that keeps the inhales that it would have sounded.
type listener struct {
	Inhales []inhaleHeard

	timeline *pacer.Timeline
	began    time.Time
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
func (l *listener) Heard(d time.Duration) time.Time { return l.began.Add(d) }

// tuned is what became of a run of a tuner.
type tuned struct {
	end    ending
	why    string
	tried  []pacer.Stage
	text   string
	sound  *listener
	length time.Duration
}

// runTuner runs t from a rate. What is pressed comes in pairs: when, from the
// start, and which keys.
func runTuner(ctx context.Context, t *tuner, from float64, presses ...any) tuned {
	var text bytes.Buffer
	sound := &listener{}
	keys, over := make(chan rune), make(chan struct{})
	t.sound, t.keys, t.screen = sound, keys, &statusLine{w: &text, half: "inhale"}
	if t.step == 0 {
		t.step = defaultStage
		if t.steps {
			t.step = defaultStep
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
	start := sessions.Breath{Rate: from, Ratio: sessions.Ratio{Inhale: 1, Exhale: 1.5}, Pause: 500 * time.Millisecond}
	end, why := t.run(ctx, start)
	close(over)
	synctest.Wait()
	return tuned{end, why, t.tried, text.String(), sound, time.Since(began)}
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
func stages(list []pacer.Stage) (short []string) {
	for _, s := range list {
		text := breathWords(sessions.Breath{Rate: s.Rate, Ratio: s.Ratio})
		for _, c := range s.Comfort {
			text += " " + plain(float64(c))
		}
		if s.LightHeaded {
			text += " light-headed"
		}
		short = append(short, text)
	}
	return short
}

func (r tuned) check(t *testing.T, end ending, why string, want ...string) {
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
		r := runTuner(t.Context(), &tuner{}, 14,
			59*second, "d", // too early to be asked
			// The next inhale is at 60 s. Two breaths longer by 3.9 % each lead
			// to 12.5 a minute: it is reached at 69.1 s.
			125*second, "d", // again before the question
			155*second, "7n", // a number is taken at any time
			216*second, "9", 217*second, "n", // the question, a minute later
			218*second, "uw")
		r.check(t, wanted, "", "14 a minute, 1:1.5", "12.5 a minute, 1:1.5", "11.5 a minute, 1:1.5 7 9")
		r.mentions(t, "To 12.5 a minute, 1:1.5 in small steps, 3 breaths.", "Comfort 7. Light-headed?",
			"Most comfortable so far: 11.5 a minute, 1:1.5. Slower? d goes on to 10.5.", "How comfortable is it")
		if n := strings.Count(r.text, "How comfortable"); n != 1 {
			t.Errorf("comfort was asked for %d times, want once", n)
		}
		if got := r.tried[0].Seconds; got != 59 {
			t.Errorf("14 a minute was kept up for %v s, want 59", got)
		}
	})
}

// By itself: two minutes a step from where each is reached, asked every
// minute, down to the lowest.
func TestTunerSteps(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		var presses []any
		for i := range 30 { // an answer every 31 s, where there is a question
			presses = append(presses, time.Duration(31*(i+4))*second, "n8n")
		}
		r := runTuner(t.Context(), &tuner{steps: true}, 14, presses...)
		if r.end != through || r.why != "4.5 a minute is the lowest that is offered" || len(r.tried) != 5 {
			t.Errorf("it ends with %d because %q after %d stages", r.end, r.why, len(r.tried))
		}
		r.checkBreaths(t)
		for i, s := range r.tried {
			if s.Rate != pacer.RateSteps[i] || s.Seconds < 120 || s.Seconds > 160 {
				t.Errorf("step %d: %g a minute for %v s", i, s.Rate, s.Seconds)
			}
		}
		r.mentions(t, "To 6.5 a minute, 1:1.5 in small steps, 16 breaths.")
	})
}

// The first step is on the way from the very first breath; the question comes
// a minute after the step is reached and no sooner.
func TestTunerAsksEveryMinute(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		ctx, cancel := context.WithCancel(t.Context())
		// 7 to 6.5 takes 2 breaths: the first at √(7·6.5) a minute, 8.895 s.
		time.AfterFunc(8895*time.Millisecond+59*second, cancel)
		r := runTuner(ctx, &tuner{steps: true}, 7)
		r.check(t, left, "", "6.5 a minute, 1:1.5")
		if strings.Contains(r.text, "How comfortable") {
			t.Errorf("it asked within a minute:\n%s", r.text)
		}
		ctx, cancel = context.WithCancel(t.Context())
		time.AfterFunc(8895*time.Millisecond+61*second, cancel)
		r = runTuner(ctx, &tuner{steps: true}, 7)
		r.mentions(t, "How comfortable")
		if n := len(r.sound.Inhales); math.Abs(r.sound.Inhales[0].rate-math.Sqrt(7*6.5)) > 1e-9 || r.sound.Inhales[n-1].rate != 6.5 {
			t.Errorf("it began at %g a minute and ended at %g", r.sound.Inhales[0].rate, r.sound.Inhales[n-1].rate)
		}
	})
}

func TestTunerGoesNoLower(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		// In steps a fall by 2 is the end, at the first question of the step.
		r := runTuner(t.Context(), &tuner{steps: true}, 7,
			70*second, "8n", 131*second, "9n", 215*second, "7n", 400*second, "q")
		r.check(t, through, "comfort fell from 9 to 7 at 6 a minute", "6.5 a minute, 1:1.5 8 9", "6 a minute, 1:1.5 7")
		if r.length > 216*second {
			t.Errorf("it went on for %v", r.length)
		}

		// Led by keys the person goes on, but not lower.
		r = runTuner(t.Context(), &tuner{}, 7,
			5*second, "8n", 10*second, "d", 60*second, "6n", 61*second, "d", 62*second, "u", 110*second, "9nd", 150*second, "5nd", 151*second, "w")
		r.check(t, wanted, "", "7 a minute, 1:1.5 8", "6.5 a minute, 1:1.5 6", "7 a minute, 1:1.5 9", "6.5 a minute, 1:1.5 5")
		r.mentions(t, "No slower from here: comfort fell from 8 to 6 at 6.5 a minute.", "No slower: comfort fell from 8 to 6 at 6.5 a minute.")
	})
}

// The keys go down the steps too, and a rate is not rated on the way to it.
func TestTunerStepsByKeys(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		r := runTuner(t.Context(), &tuner{steps: true}, 7,
			5*second, "8", 20*second, "8nd", 60*second, "7nddd", 150*second, "7nd", 151*second, "w")
		r.check(t, wanted, "", "6.5 a minute, 1:1.5 8", "6 a minute, 1:1.5 7", "4.5 a minute, 1:1.5 7")
		r.mentions(t, "On the way still: rate it when the breath is there.", "No slower: 4.5 a minute is the lowest that is offered.")
	})
}

// Nobody is paced on who is light-headed, whenever they say so.
func TestTunerLightHeaded(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		r := runTuner(t.Context(), &tuner{steps: true}, 7, 70*second, "8y")
		r.check(t, through, "light-headed at 6.5 a minute", "6.5 a minute, 1:1.5 8 light-headed")
		r.mentions(t, "Leave the pacing now and breathe as you like.")

		r = runTuner(t.Context(), &tuner{}, 7, 5*second, "8n", 30*second, "b")
		r.check(t, through, "light-headed at 7 a minute", "7 a minute, 1:1.5 8 light-headed")
		if r.length != 30*second {
			t.Errorf("it went on for %v after the key", r.length-30*second)
		}

		// What ended it is said, not what spoke against a lower rate before.
		r = runTuner(t.Context(), &tuner{}, 7, 5*second, "8n", 10*second, "6n", 30*second, "b")
		r.check(t, through, "light-headed at 7 a minute", "7 a minute, 1:1.5 8 6 light-headed")

		// On the way it counts at the rate under way: from 14 towards 12.5 in
		// three breaths the second is at 14·(12.5/14)^(2/3) = 12.98.
		r = runTuner(t.Context(), &tuner{}, 14, 5*second, "8n", 10*second, "d", 20*second, "b")
		r.check(t, through, "light-headed at 13 a minute", "14 a minute, 1:1.5 8", "13 a minute, 1:1.5 light-headed")
	})
}

func TestTunerRatio(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		r := runTuner(t.Context(), &tuner{}, 12,
			7*second, "eee", 40*second, "7n", 41*second, "id", 100*second, "8n", 101*second, "w")
		r.check(t, wanted, "", "12 a minute, 1:1.5", "12 a minute, 1:1.8 7", "11 a minute, 1:1.7 8")
		var ratios []float64
		for _, i := range r.sound.Inhales[:6] {
			ratios = append(ratios, i.ratio.Exhale)
		}
		// Pressed in the second breath: one step in each breath from then on.
		if want := []float64{1.5, 1.5, 1.6, 1.7, 1.8, 1.8}; !reflect.DeepEqual(ratios, want) {
			t.Errorf("exhales of the first breaths were %v, want %v", ratios, want)
		}
	})
}

func TestTunerLimits(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		r := runTuner(t.Context(), &tuner{}, 30, 5*second, "7nu", 10*second, "w")
		r.check(t, wanted, "", "30 a minute, 1:1.5 7")
		r.mentions(t, "Not so: 30 a minute, 1:1.5 is at the limit.")

		r = runTuner(t.Context(), &tuner{}, 3, 25*second, "7nd", 26*second, strings.Repeat("e", 30), 27*second, "w")
		r.mentions(t, "Not so: 3 a minute, 1:1.5 is at the limit.", "Not so: the exhale lasts 15.")

		// What 4 a minute has room for is too long for the 3.5 on the way there.
		r = runTuner(t.Context(), &tuner{}, 3.5, 20*second, "7n", 21*second, "u"+strings.Repeat("e", 20), 40*second, "w")
		r.checkBreaths(t)
		for _, i := range r.sound.Inhales {
			if x := (60/i.rate - 0.5) * i.ratio.Exhale / (i.ratio.Inhale + i.ratio.Exhale); x > 15 {
				t.Errorf("an exhale of %v s", x)
			}
		}
	})
}

func TestTunerIsLeft(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		r := runTuner(t.Context(), &tuner{}, 14, 5*second, "w", 6*second, "q")
		r.check(t, left, "", "14 a minute, 1:1.5")
		r.mentions(t, "There is nothing to write yet")

		ctx, cancel := context.WithTimeout(t.Context(), 10*second)
		defer cancel()
		runTuner(ctx, &tuner{}, 14).check(t, left, "", "14 a minute, 1:1.5")

		// Half an answer is none.
		r = runTuner(t.Context(), &tuner{}, 14, 5*second, "8w", 7*second, "q")
		r.check(t, left, "", "14 a minute, 1:1.5")
	})
}

// Digits after the first correct it; 1 and 0 make 10, however slowly.
func TestTunerComfort(t *testing.T) {
	for pressed, want := range map[string]string{
		"0n": " 0", "1n": " 1", "10n": " 10", "9n": " 9", "89n": " 9", "810n": " 10", "1d0n": " 10", "100n": " 0", "n8n": " 8", "8\nn": " 8", "8dn": " 8",
	} {
		synctest.Test(t, func(t *testing.T) {
			r := runTuner(t.Context(), &tuner{}, 14, 5*second, pressed, 6*second, "w")
			r.check(t, wanted, "", "14 a minute, 1:1.5"+want)
		})
	}
}

// Where nobody presses the keys, a line lasts until the next question.
func TestTunerPipedKeys(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		r := runTuner(t.Context(), &tuner{piped: true}, 14, 0*second, "\n7n\n8\nn\n9nw\n")
		r.check(t, wanted, "", "14 a minute, 1:1.5 7 8 9")
		if r.length != 3*time.Minute {
			t.Errorf("it took %v, want 3 questions a minute apart", r.length)
		}
	})
}

// A very long stay at one rate goes on without a seam.
func TestTunerTakesUpItsTimelineAnew(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		r := runTuner(t.Context(), &tuner{}, 6, 5*second, "7n", 90*time.Minute, "w")
		r.check(t, wanted, "", "6 a minute, 1:1.5 7")
		if n := len(r.sound.Inhales); n != 541 && n != 540 {
			t.Errorf("%d breaths in 90 minutes", n)
		}
	})
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
		got := startBreath(c.b, 14)
		if want := (sessions.Breath{Match: c.b.Match, Pause: c.b.Pause, Rate: 14, Ratio: c.want}); got != want {
			t.Errorf("of %+v: %+v, want %+v", c.b, got, want)
		}
	}
}

func TestReplaceFile(t *testing.T) {
	dir := t.TempDir()
	name := filepath.Join(dir, "a.yaml")
	write := func(name, text string, mode fs.FileMode) {
		t.Helper()
		if err := errors.Join(os.WriteFile(name, []byte(text), mode), os.Chmod(name, mode)); err != nil {
			t.Fatal(err)
		}
	}
	read := func(name string) string {
		t.Helper()
		b, err := os.ReadFile(name)
		if err != nil {
			t.Fatal(err)
		}
		return string(b)
	}
	write(name, "one", 0o640)
	for i, want := range []string{"a.yaml.bak", "a.yaml.bak.1", "a.yaml.bak.2"} {
		old := read(name)
		kept, err := replaceFile(name, []byte(old), []byte(old+"+"))
		if err != nil || filepath.Base(kept) != want {
			t.Fatalf("kept as %q (%v), want %q", kept, err, want)
		}
		if read(name) != old+"+" || read(kept) != old {
			t.Errorf("%d: the file has %q, the old one %q", i, read(name), read(kept))
		}
	}
	if got := read(filepath.Join(dir, "a.yaml.bak")); got != "one" {
		t.Errorf("the first old one has %q", got)
	}
	if runtime.GOOS != "windows" {
		for _, n := range []string{name, name + ".bak"} {
			if info, err := os.Stat(n); err != nil || info.Mode() != 0o640 {
				t.Errorf("%s has mode %v (%v), want 0640", n, info.Mode(), err)
			}
		}
		// A link stays one; what it leads to is changed, and kept there.
		elsewhere := t.TempDir()
		link := filepath.Join(elsewhere, "link.yaml")
		if err := os.Symlink(name, link); err != nil {
			t.Fatal(err)
		}
		kept, err := replaceFile(link, []byte(read(name)), []byte("linked"))
		if err != nil || filepath.Base(kept) != "a.yaml.bak.3" || read(name) != "linked" {
			t.Errorf("through a link: kept as %q (%v), the file has %q", kept, err, read(name))
		}
		if info, err := os.Lstat(link); err != nil || info.Mode()&fs.ModeSymlink == 0 {
			t.Errorf("the link is one no more: %v, %v", info.Mode(), err)
		}
	}
	if _, err := replaceFile(filepath.Join(dir, "none.yaml"), nil, nil); !errors.Is(err, fs.ErrNotExist) {
		t.Errorf("a file that is not there: %v", err)
	}
	// What cannot be replaced leaves nothing behind.
	folder := filepath.Join(dir, "a.yaml.d")
	if err := os.Mkdir(folder, 0o755); err != nil {
		t.Fatal(err)
	}
	if kept, err := replaceFile(folder, []byte("old"), []byte("new")); err == nil || kept != "" {
		t.Errorf("a folder was replaced and kept as %q", kept)
	}
	if _, err := os.Stat(folder + ".bak"); !errors.Is(err, fs.ErrNotExist) {
		t.Errorf("an old one was kept of what was not replaced: %v", err)
	}
	entries, err := os.ReadDir(dir)
	if err != nil {
		t.Fatal(err)
	}
	for _, e := range entries {
		if !strings.HasPrefix(e.Name(), "a.yaml") {
			t.Errorf("%s was left behind", e.Name())
		}
	}
}
