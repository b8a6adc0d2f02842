package tuner

import (
	"bytes"
	"cmp"
	"context"
	"fmt"
	"math"
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
	Result
	text   string
	sound  *listener
	length time.Duration
	ended  time.Time
}

// oneTo is a breath of the given ratio, with half a second of pause.
func oneTo(rate, exhale float64) sessions.Breath {
	return sessions.Breath{Rate: rate, Ratio: sessions.Ratio{Inhale: 1, Exhale: exhale}, Pause: 500 * time.Millisecond}
}

// tune runs t from a breath, with a minute for each stage, two in steps, and the
// floor 4.5 where it has none. What is pressed is written as "SECOND KEYS,SECOND
// KEYS", the seconds from the start.
func tune(ctx context.Context, t Tuner, start sessions.Breath, presses string) tuned {
	var text bytes.Buffer
	if t.Sound == nil {
		t.Sound = &listener{}
	}
	keys, over := make(chan rune), make(chan struct{})
	t.Keys, t.Screen = keys, console.NewStatusLine(&text)
	t.Floor = cmp.Or(t.Floor, 4.5)
	if t.Step == 0 && t.Steps {
		t.Step = 2 * time.Minute
	}
	t.Step = cmp.Or(t.Step, time.Minute)
	began := time.Now()
	go func() {
		defer close(keys)
		for press := range strings.SplitSeq(presses, ",") {
			second, pressed, _ := strings.Cut(press, " ")
			at, _ := time.ParseDuration(second + "s")
			select {
			case <-time.After(time.Until(began.Add(at))):
			case <-over:
			}
			for _, k := range pressed {
				select {
				case keys <- k:
				case <-over:
					return
				}
			}
		}
		<-over // the terminal stays
	}()
	r := t.Run(ctx, start)
	close(over)
	synctest.Wait()
	return tuned{r, text.String(), t.Sound.(*listener), time.Since(began), time.Now()}
}

// checkBreaths fails if a breath differs by more than 5 % from the one before it, or
// does not begin where that one ends.
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

// stages writes what was tried in short, without lengths; a ratio of 1:1.5 is left
// out.
func stages(tried []rate.Stage) string {
	var list []string
	for _, s := range tried {
		text := fmt.Sprintf("%.4g %s", s.Rate, s.Ratio)
		text = strings.TrimSuffix(text, " 1:1.5")
		for _, c := range s.Comfort {
			text += fmt.Sprint(" ", c)
		}
		if s.Whole {
			text += " whole"
		}
		if s.LightHeaded {
			text += " light-headed"
		}
		list = append(list, text)
	}
	return strings.Join(list, "; ")
}

const second = time.Second

const (
	asks       = "How comfortable is it? 0 is not at all, 10 is the best."
	asksStop   = "Stopped. Breathe as you like. Light-headed or short of breath? y or n"
	leavePaced = "Leave the pacing now. Breathe as you like, and sit until it has passed."
	faint      = "light-headed or short of breath at "
)

func TestTuner(t *testing.T) {
	steps, at7 := Tuner{Steps: true}, oneTo(7, 1.5)
	for name, c := range map[string]struct {
		tuner   Tuner
		start   sessions.Breath // 14 a minute where it is zero
		presses string
		end     string // "left", "write", or why it is over
		tried   string
		said    []string // each once
	}{
		// It asks a minute after a rate is reached, offers the next, and asks
		// whenever a number is pressed. The next inhale after the first s is at
		// 60 s. Two breaths longer by 3.9 % each lead to 12.5 a minute: it is
		// reached at 69.1 s. The second s is pressed before the question.
		"led by keys": {presses: "59 s,125 s,155 7n,216 9,217 n,218 fw", end: "write", tried: "14; 12.5; 11.5 7 9 whole", said: []string{
			"Going to 12.5 a minute, 1:1.5, in 3 small steps.", "Comfort 7, where 10 is the best. Light-headed or short of breath?",
			"Kept. You are asked again at 1:00;", "Most comfortable so far: 11.5 a minute, 1:1.5.", "Slower? s goes on to 10.5.", asks}},
		// A fall of comfort by 2 is the end at the first question of a step.
		"steps, less comfortable": {tuner: steps, start: at7, presses: "70 8n,131 9n,215 7n,400 q",
			end: "comfort fell from 9 to 7 at 6.5 a minute", tried: "7 8 9 whole; 6.5 7"},
		// Led by keys the person goes on, but not to that rate again.
		"keys, less comfortable": {start: at7, presses: "5 8n,10 s,60 6n,61 s,62 f,140 9nw", end: "write", tried: "7 8; 6.5 6; 7 9 whole", said: []string{
			"No slower: comfort fell from 8 to 6 at 6.5 a minute."}},
		"less comfortable, then left": {start: at7, presses: "5 8n,10 s,60 6n,61 q", end: "left", tried: "7 8; 6.5 6", said: []string{
			"No slower from here: comfort fell from 8 to 6 at 6.5 a minute."}},
		// The keys go down the steps too; under 6 a minute only from a step that
		// was tried for its whole time. A rate is not rated on the way to it, and
		// no key is kept for later. 6.5 is reached at 17.5 s, 6 at 73.2 s.
		"steps by keys": {tuner: steps, start: at7, presses: "5 8ns,10 8sss,60 7ns,100 7ns,200 8n,220 q",
			end: "left", tried: "7 8; 6.5 7; 6 7 8 whole; 5.5", said: []string{
				"Not yet: the breath is still on its way to 6.5 a minute, 1:1.5.",
				"No slower: a step under 6 a minute comes only after this rate was tried for its whole time and rated."}},

		// Keys in a row once led past every limit, and to 3 a minute without a
		// question, when d meant slower.
		"longer inhale, d":      {start: oneTo(6, 4), presses: "5 iiiiiiiiiidddddd,600 q", end: "left", tried: "6 1:4; 6 1:3.9"},
		"longer inhale, slower": {start: oneTo(6, 4), presses: "5 iiiiiiiiiissssss,600 q", end: "left", tried: "6 1:4; 6 1:3.9"},
		"slower in a row":       {start: oneTo(6, 1.5), presses: "5 dsdsdsdsdsdsdsdsdsds,600 q", end: "left", tried: "6"},
		"slower one by one": {start: oneTo(9, 1.5), presses: "50 ds,100 ds,150 ds,200 ds,250 ds,300 ds,350 ds,400 ds,1300 q",
			end: "left", tried: "9; 8; 7; 6.5; 6"},

		// Light-headedness ends the pacing whenever it is said. What ended it is
		// told, not what spoke against a lower rate before.
		"light-headed when asked": {tuner: steps, start: at7, presses: "70 8y", end: faint + "7 a minute", tried: "7 8 light-headed", said: []string{leavePaced}},
		"light-headed, unasked":   {start: at7, presses: "5 8n,30 b", end: faint + "7 a minute", tried: "7 8 light-headed"},
		"light-headed, after less comfort": {start: at7, presses: "5 8n,10 6n,30 b",
			end: faint + "7 a minute", tried: "7 8 6 light-headed"},
		// On the way it counts at the rate under way: from 14 towards 12.5 in
		// three breaths the second is at 14·(12.5/14)^(2/3) = 12.98.
		"light-headed on the way": {presses: "5 8n,10 s,20 b", end: faint + "12.98 a minute", tried: "14 8; 12.98 light-headed"},
		// Between the key and the next inhale the breath under way is still that
		// of the stage before.
		"light-headed before the change": {start: oneTo(6.24, 1.5), presses: "65 8n,66 s,67 b",
			end: faint + "6.24 a minute", tried: "6.24 8 whole; 6.24 light-headed"},

		// A ratio changes by one step at a time, and holds up the next until it
		// is there.
		"ratio": {start: oneTo(12, 1.5), presses: "7 eee,12 e,17 e,90 7n,91 i,96 s,170 8n,171 w",
			end: "write", tried: "12; 12 1:1.6; 12 1:1.7; 12 1:1.8 7 whole; 12 1:1.7; 11 1:1.7 8 whole"},

		"fastest": {start: oneTo(30, 1.5), presses: "65 7nf,70 w", end: "write", tried: "30 7 whole", said: []string{"That is the limit: 30 a minute, 1:1.5."}},
		// Of a breath at 3 a minute 19.5 s are inhale and exhale: at 1:3.3 the
		// exhale takes 14.97 s, at 1:3.4 it would take 15.07 s.
		"slowest, longest exhale": {tuner: Tuner{Floor: 3}, start: oneTo(3, 3.2), presses: "65 7ns,70 e,91 e,600 w",
			end: "write", tried: "3 1:3.2 7 whole; 3 1:3.3", said: []string{
				"No slower: 3 a minute is the lowest that is offered.", "Not possible: the exhale lasts 15.07 s at 3 breaths a minute"}},
		// 1:10 fits into a breath at 4 a minute and not at 3.5, where
		// (60/3.5 − 0.5)·10/11 = 15.13 s would be exhale.
		"steps to too long an exhale": {tuner: Tuner{Floor: 3, Steps: true, Step: 30 * second}, start: oneTo(4, 10), presses: "31 7n",
			end: "the exhale lasts 15.13 s at 3.5 breaths a minute: from 0.5 s to 15 s is allowed", tried: "4 1:10 7 whole"},

		// Half an answer is none, and one before the minute is over not enough.
		"nothing to write":    {presses: "5 w,6 q", end: "left", tried: "14", said: []string{"There is nothing to write yet: a rate must be tried for 1:00 and then rated."}},
		"half an answer":      {presses: "65 8w,67 q", end: "left", tried: "14"},
		"an answer too early": {presses: "59 8nw,67 q", end: "left", tried: "14 8"},

		// A line of piped keys lasts until the next question.
		"piped": {tuner: Tuner{Piped: true}, presses: "0 \n7n\n8\nn\n9nw\n", end: "write", tried: "14 7 8 9 whole"},
		// Pacing ends by itself, and no time in which the computer slept counts.
		"forgotten": {start: oneTo(6, 1.5), presses: "65 7n,5400 w", end: "20 minutes at one rate are enough", tried: "6 7 whole"},
		"asleep": {tuner: Tuner{Sound: &listener{Stands: 10 * second}, Step: 2 * time.Minute}, presses: "125 7nw",
			end: "the computer stopped for a while, and the pacing with it", tried: "14"},
	} {
		t.Run(name, func(t *testing.T) {
			synctest.Test(t, func(t *testing.T) {
				if c.start.Rate == 0 {
					c.start = oneTo(14, 1.5)
				}
				r := tune(t.Context(), c.tuner, c.start, c.presses)
				r.check(t, c.end, c.tried)
				for _, text := range c.said {
					if n := strings.Count(r.text, text); n != 1 {
						t.Errorf("%q is said %d times, want once:\n%s", text, n, r.text)
					}
				}
				if best, ok := rate.Recommend(r.Tried); ok && strings.Contains(c.tried, "light-headed") {
					t.Errorf("recommended is %+v", best)
				}
			})
		})
	}
}

func (r tuned) check(t *testing.T, end, tried string) {
	t.Helper()
	r.checkBreaths(t)
	got := map[Ending]string{Left: "left", Write: "write", Over: r.Why}[r.End]
	if got != end || r.End != Over && r.Why != "" {
		t.Errorf("it ends with %q (%q), want %q", got, r.Why, end)
	}
	if got := stages(r.Tried); got != tried {
		t.Errorf("tried were %q, want %q", got, tried)
	}
	if t.Failed() {
		t.Log(r.text)
	}
}

// When things happen: what is heard, and for how long.
func TestTunerTimes(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		if r := tune(t.Context(), Tuner{}, oneTo(14, 1.5), "59 s,125 q"); r.Tried[0].Seconds != 59 {
			t.Errorf("14 a minute was kept up for %v s, want 59", r.Tried[0].Seconds)
		}
		if r := tune(t.Context(), Tuner{}, oneTo(7, 1.5), "30 b"); r.length != 30*second {
			t.Errorf("it went on for %v after light-headedness", r.length-30*second)
		}
		if r := tune(t.Context(), Tuner{Piped: true}, oneTo(14, 1.5), "0 7n\n8n\n9nw\n"); r.length != 2*time.Minute {
			t.Errorf("it took %v, want 2 questions a minute apart", r.length)
		}
		r := tune(t.Context(), Tuner{}, oneTo(6, 1.5), "5400 w")
		if n := len(r.sound.Inhales); n != 120 || r.length < 20*time.Minute || r.length > 20*time.Minute+second {
			t.Errorf("%d breaths in %v, want 120 in 20 minutes", n, r.length)
		}
		// The inhales are at 0, 5, 10 … s.
		r = tune(t.Context(), Tuner{}, oneTo(12, 1.5), "7 eee,12 e,17 e,29 q")
		var ratios []float64
		for _, i := range r.sound.Inhales {
			ratios = append(ratios, i.ratio.Exhale)
		}
		if want := []float64{1.5, 1.5, 1.6, 1.7, 1.8, 1.8}; !slices.Equal(ratios, want) {
			t.Errorf("exhales of the first breaths were %v, want %v", ratios, want)
		}
		ctx, cancel := context.WithTimeout(t.Context(), 10*second)
		defer cancel()
		tune(ctx, Tuner{}, oneTo(14, 1.5), "").check(t, "left", "14")
	})
}

// Enter stops at once, as in a session, on the way and while a question is open
// too; then it asks, for as long as it takes.
func TestTunerStops(t *testing.T) {
	for name, c := range map[string]struct{ presses, end, tried string }{
		"nothing of these": {"30 \n,90 n", "stopped at 14 a minute", "14"},
		"light-headed":     {"30 \r,90 y", faint + "14 a minute", "14 light-headed"},
		"left":             {"30 \n,90 q", "left", "14"},
		"on the way":       {"25 s,30 \n,90 n", "stopped at 13.5 a minute", "14"},
		"while asked":      {"10 8,30 \n,90 7sn", "stopped at 14 a minute", "14"},
		"begun twice":      {"1 \n,30 \n,90 n", "stopped at 14 a minute", "14"},
	} {
		t.Run(name, func(t *testing.T) {
			synctest.Test(t, func(t *testing.T) {
				r := tune(t.Context(), Tuner{}, oneTo(14, 1.5), c.presses)
				r.check(t, c.end, c.tried)
				// 30 s hold 7 breaths at 14 a minute; on the way 6, and one of
				// 13.48 a minute.
				if n := len(r.sound.Inhales); n != 7 && n != 8 {
					t.Errorf("%d inhales were heard in 30 s", n)
				}
				if last := r.Tried[len(r.Tried)-1].Seconds; last != 30 && last != 25 {
					t.Errorf("the stage lasted %v s", last)
				}
				if !strings.Contains(r.text, asksStop) {
					t.Errorf("it says\n%s", r.text)
				}
			})
		})
	}
}

// Digits after the first correct it; 1 and 0 make 10, however slowly. Keys that
// mean something in a session and nothing here do nothing.
func TestTunerComfort(t *testing.T) {
	for pressed, want := range map[string]string{
		"0n": "0", "1n": "1", "10n": "10", "9n": "9", "89n": "9", "810n": "10", "1s0n": "10", "100n": "0", "n8n": "8", "8dup n": "8", "8sn": "8",
	} {
		synctest.Test(t, func(t *testing.T) {
			tune(t.Context(), Tuner{}, oneTo(14, 1.5), "65 "+pressed+",66 w").check(t, "write", "14 "+want+" whole")
		})
	}
}

// By itself: from where the person breathes, by 1 a minute at most, two minutes
// a step from where each is reached, down to the lowest.
func TestTunerSteps(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		var presses []string
		for i := range 70 { // an answer every 31 s, where there is a question
			presses = append(presses, fmt.Sprint(31*(i+4), " n8n"))
		}
		r := tune(t.Context(), Tuner{Steps: true}, oneTo(14, 1.5), strings.Join(presses, ","))
		want := []float64{14, 13, 12, 11, 10, 9, 8, 7, 6.5, 6, 5.5, 5, 4.5}
		if r.End != Over || r.Why != "4.5 a minute is the lowest that is offered" || len(r.Tried) != len(want) {
			t.Fatalf("it ends with %d because %q after %q", r.End, r.Why, stages(r.Tried))
		}
		r.checkBreaths(t)
		for i, s := range r.Tried {
			if s.Rate != want[i] || s.Seconds < 120 || s.Seconds > 160 || !s.Whole {
				t.Errorf("step %d: %g a minute for %v s, whole %t", i, s.Rate, s.Seconds, s.Whole)
			}
		}
	})
}

// A question comes a minute after a step is reached, and again when the step is
// over or after another minute, whichever is first.
func TestTunerAsksEveryMinute(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		for length, asked := range map[time.Duration]int{59 * second: 0, 61 * second: 1, 129 * second: 1, 131 * second: 2, 149 * second: 2, 151 * second: 3} {
			ctx, cancel := context.WithTimeout(t.Context(), length)
			r := tune(ctx, Tuner{Steps: true, Step: 150 * second}, oneTo(7, 1.5), "70 8n,132 8n")
			cancel()
			if n := strings.Count(r.text, asks); n != asked {
				t.Errorf("in %v it asked %d times, want %d", length, n, asked)
			}
		}
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
		tuner := Tuner{Step: step, Steps: rapid.Bool().Draw(rt, "steps"), Floor: rapid.SampledFrom([]float64{4.5, 4.5, 3, 5.8}).Draw(rt, "floor")}
		highest := rapid.SampledFrom([]float64{6.5, 8, 30}).Draw(rt, "highest")
		start := oneTo(rapid.Float64Range(tuner.Floor, highest).Draw(rt, "from"), rapid.SampledFrom([]float64{1, 1.5, 4, 9.5}).Draw(rt, "exhale"))
		if rapid.Bool().Draw(rt, "inhale longer") {
			start.Ratio.Inhale, start.Ratio.Exhale = start.Ratio.Exhale, start.Ratio.Inhale
		}
		if _, err := pacer.AtRest(start, 1); err != nil {
			start.Ratio = sessions.Ratio{Inhale: 1, Exhale: 1.5}
		}
		var presses []string
		at := 1
		trains := rapid.SampledFrom([]string{"s", "s", "sssss", "8n", "8n", "9n", "7n", "8ns", "7ns", "5n", "10n", "8", "n", "f", "e", "i", "eeee", "iiii", "dup \x00"})
		for range rapid.IntRange(1, 60).Draw(rt, "presses") {
			at += rapid.IntRange(0, 40).Draw(rt, "after")
			presses = append(presses, fmt.Sprint(at, " ", trains.Draw(rt, "keys")))
		}
		end := rapid.SampledFrom([]string{"q", "w", "b", "y", "\nn", "\ny"}).Draw(rt, "end")
		var r tuned
		synctest.Test(t, func(t *testing.T) {
			presses = append(presses, fmt.Sprint(at+1, " ", end), fmt.Sprint(at+2, " q"))
			r = tune(t.Context(), tuner, start, strings.Join(presses, ","))
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
		tried := r.Tried
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
		if best, ok := rate.Recommend(r.Tried); ok && (len(best.Comfort) == 0 || r.longest(best) < step) {
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
