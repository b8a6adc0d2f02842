package pacer_test

import (
	"cmp"
	"encoding/json"
	"fmt"
	"math"
	"slices"
	"strings"
	"testing"
	"time"

	"pgregory.net/rapid"

	"glidepace/pacer"
	"glidepace/sessions"
	"glidepace/sessions/glides"
)

// exercise is one set of n repetitions on the right, without set-up; it
// pauses at the end of the glide.
func exercise(n int) sessions.Exercise {
	return sessions.Exercise{Glide: glides.Glide{Name: "wrist"}, Side: sessions.Right, Sets: 1, Reps: n}
}

// paced returns a session of exercises at a rate, a ratio of 1:b and a pause
// of half a second.
func paced(m sessions.Match, rate, b float64, exercises ...sessions.Exercise) *sessions.Session {
	return &sessions.Session{Posture: sessions.PostureNone, Title: "by hand", Exercises: exercises, Breath: sessions.Breath{
		Match: m, Rate: rate, Ratio: sessions.Ratio{Inhale: 1, Exhale: b}, Pause: 500 * time.Millisecond}}
}

// wantSteps compares steps, each written as
// "START SECONDS BREATH/MOVE EXERCISE SIDE SET.REP #BREATH", with - for no side.
func wantSteps(t *testing.T, tl *pacer.Timeline, want ...string) {
	t.Helper()
	if len(tl.Steps) != len(want) {
		t.Errorf("%d steps, want %d", len(tl.Steps), len(want))
	}
	for i, s := range tl.Steps[:min(len(tl.Steps), len(want))] {
		var start, seconds float64
		w := strings.Fields(want[i])
		if _, err := fmt.Sscan(w[0]+" "+w[1], &start, &seconds); err != nil {
			t.Fatal(err)
		}
		side := cmp.Or(s.Side.String(), "-")
		got := fmt.Sprintf("%s/%s %d %s %d.%d #%d", s.Breath, s.Move, s.Exercise, side, s.Set, s.Rep, s.BreathNumber)
		if math.Abs(s.Start-start) > 1e-9 || math.Abs(s.Duration-seconds) > 1e-9 || got != strings.Join(w[2:], " ") {
			t.Errorf("step %d: %v %v %s, want %s", i, s.Start, s.Duration, got, strings.Join(w, " "))
		}
	}
}

func TestExhaleOnGlideWorkedExample(t *testing.T) {
	ex := exercise(10)
	ex.SetUp, ex.Rest = 15*time.Second, 30*time.Second
	tl := mustNew(t, paced(sessions.ExhaleOnGlide, 6, 1.5, ex))
	if len(tl.Steps) != 32 || !near(tl.Duration, 118.8, 1e-12) || tl.Repetitions != 10 || tl.Breaths != 11 {
		t.Errorf("%d steps in %v s, %d repetitions, %d breaths; want 32 in 118.8 s, 10, 11",
			len(tl.Steps), tl.Duration, tl.Repetitions, tl.Breaths)
	}
	sets := tl.Sets()
	if len(sets) != 1 || !near(sets[0].Length, 103.8, 1e-12) || sets[0].Reps != 10 {
		t.Errorf("sets %+v, want one of 10 repetitions in 103.8 s", sets)
	}
	tl.Steps = append(tl.Steps[:6:6], tl.Steps[29:]...)
	wantSteps(t, tl,
		"  0.0 15.0 free/set-up   1 right 1.0  #-1",
		" 15.0  3.8 inhale/rest   1 right 1.0  #0",
		" 18.8  5.7 exhale/glide  1 right 1.1  #0",
		" 24.5  0.5 pause/pause   1 right 1.1  #0",
		" 25.0  3.8 inhale/return 1 right 1.1  #1",
		" 28.8  5.7 exhale/glide  1 right 1.2  #1",
		"108.8  5.7 exhale/glide  1 right 1.10 #9",
		"114.5  0.5 pause/pause   1 right 1.10 #9",
		"115.0  3.8 inhale/return 1 right 1.10 #10",
	)
}

func TestBreathPerRepWorkedExample(t *testing.T) {
	ex := exercise(4)
	ex.Side, ex.SetUp, ex.Rest = sessions.Both, 15*time.Second, 30*time.Second
	tl := mustNew(t, paced(sessions.BreathPerRep, 6, 1, ex))
	if !near(tl.Duration, 110, 1e-12) || tl.Repetitions != 8 || tl.Breaths != 6 {
		t.Errorf("%v s, %d repetitions, %d breaths; want 110 s, 8, 6", tl.Duration, tl.Repetitions, tl.Breaths)
	}
	for _, set := range tl.Sets() {
		if !near(set.Length, 25, 1e-12) {
			t.Errorf("the set on the %s lasts %v s, want 25", set.Side, set.Length)
		}
	}
	wantSteps(t, tl,
		"  0.00 15.00 free/set-up   1 right 1.0 #-1",
		" 15.00  5.00 inhale/rest   1 right 1.0 #0",
		" 20.00  2.25 exhale/glide  1 right 1.1 #0",
		" 22.25  0.50 exhale/pause  1 right 1.1 #0",
		" 22.75  2.25 exhale/return 1 right 1.1 #0",
		" 25.00  2.25 inhale/glide  1 right 1.2 #1",
		" 27.25  0.50 inhale/pause  1 right 1.2 #1",
		" 27.75  2.25 inhale/return 1 right 1.2 #1",
		" 30.00  2.25 exhale/glide  1 right 1.3 #1",
		" 32.25  0.50 exhale/pause  1 right 1.3 #1",
		" 32.75  2.25 exhale/return 1 right 1.3 #1",
		" 35.00  2.25 inhale/glide  1 right 1.4 #2",
		" 37.25  0.50 inhale/pause  1 right 1.4 #2",
		" 37.75  2.25 inhale/return 1 right 1.4 #2",
		" 40.00 30.00 free/shake    1 right 1.0 #-1",
		" 70.00 15.00 free/set-up   1 left  1.0 #-1",
		" 85.00  5.00 inhale/rest   1 left  1.0 #3",
		" 90.00  2.25 exhale/glide  1 left  1.1 #3",
		" 92.25  0.50 exhale/pause  1 left  1.1 #3",
		" 92.75  2.25 exhale/return 1 left  1.1 #3",
		" 95.00  2.25 inhale/glide  1 left  1.2 #4",
		" 97.25  0.50 inhale/pause  1 left  1.2 #4",
		" 97.75  2.25 inhale/return 1 left  1.2 #4",
		"100.00  2.25 exhale/glide  1 left  1.3 #4",
		"102.25  0.50 exhale/pause  1 left  1.3 #4",
		"102.75  2.25 exhale/return 1 left  1.3 #4",
		"105.00  2.25 inhale/glide  1 left  1.4 #5",
		"107.25  0.50 inhale/pause  1 left  1.4 #5",
		"107.75  2.25 inhale/return 1 left  1.4 #5",
	)
}

// A taper from 14 to 7 breaths a minute over 20 breaths: its 20 cycles are a
// geometric series of (60/14)·(2 − 1)/(q − 1) = 121.53 s, q = 2^(1/20).
func TestTaperWorkedExample(t *testing.T) {
	s := paced(sessions.ExhaleOnGlide, 7, 1, exercise(1))
	s.LeadIn = 20
	s.Breath.Taper = &sessions.Taper{From: 14, Breaths: 20}
	tl := mustNew(t, s)
	after := tl.Steps[slices.IndexFunc(tl.Steps, pacer.Step.InSet)]
	if math.Abs(after.Start-121.53) > 0.005 {
		t.Errorf("the first 20 breaths last %v s, want 121.53", after.Start)
	}
	q := math.Exp2(1.0 / 20)
	if want := 60.0 / 14 / (q - 1); math.Abs(after.Start-want) > 1e-9 {
		t.Errorf("the first 20 breaths last %v s, want %v", after.Start, want)
	}
	if after.Rate != 7 {
		t.Errorf("breath 20 runs at %v a minute, want 7", after.Rate)
	}
	// Half the way in ratios is √(14·7); an equal step is 1.03526.
	rates := map[int]float64{}
	for _, st := range tl.Steps {
		rates[st.BreathNumber] = st.Rate
	}
	for j, want := range map[int]float64{0: 14, 5: 11.7725, 10: 9.89949, 15: 8.32445, 19: 7.24685, 20: 7, 21: 7} {
		if !near(rates[j], want, 1e-5) {
			t.Errorf("breath %d runs at %v a minute, want %v", j, rates[j], want)
		}
	}
	for j := 1; j <= 20; j++ {
		if got := rates[j-1] / rates[j]; !near(got, 1.03526, 1e-5) {
			t.Errorf("breath %d lasts %v times the one before, want 1.03526", j, got)
		}
	}
}

// Rate 6 leaves 9.5 s for inhale and exhale where the cycle has one pause, and
// 9 s where it has two. In the lead-in it always has one.
func TestPausesByHand(t *testing.T) {
	both := exercise(2)
	both.BothEnds = true
	s := paced(sessions.ExhaleOnGlide, 6, 1.5, both)
	s.LeadIn = 1
	wantSteps(t, mustNew(t, s),
		" 0.0 3.8 inhale/rest   0 - 0.0 #0",
		" 3.8 5.7 exhale/rest   0 - 0.0 #0",
		" 9.5 0.5 pause/rest    0 - 0.0 #0",
		"10.0 3.6 inhale/rest   1 right 1.0 #1",
		"13.6 5.4 exhale/glide  1 right 1.1 #1",
		"19.0 0.5 pause/pause   1 right 1.1 #1",
		"19.5 3.6 inhale/return 1 right 1.1 #2",
		"23.1 0.5 pause/pause   1 right 1.1 #2",
		"23.6 5.4 exhale/glide  1 right 1.2 #2",
		"29.0 0.5 pause/pause   1 right 1.2 #2",
		"29.5 3.6 inhale/return 1 right 1.2 #3", // no pause after the last
	)
	// In breath-per-rep the breath flows on, and every return has its pause: 6 s
	// are 2.5 + 0.5 + 2.5 + 0.5, 4 s are 1.5 + 0.5 + 1.5 + 0.5.
	s = paced(sessions.BreathPerRep, 6, 1.5, both)
	s.LeadIn = 1
	wantSteps(t, mustNew(t, s),
		" 0.0 4.0 inhale/rest   0 - 0.0 #0",
		" 4.0 6.0 exhale/rest   0 - 0.0 #0",
		"10.0 4.0 inhale/rest   1 right 1.0 #1",
		"14.0 2.5 exhale/glide  1 right 1.1 #1",
		"16.5 0.5 exhale/pause  1 right 1.1 #1",
		"17.0 2.5 exhale/return 1 right 1.1 #1",
		"19.5 0.5 exhale/pause  1 right 1.1 #1",
		"20.0 1.5 inhale/glide  1 right 1.2 #2",
		"21.5 0.5 inhale/pause  1 right 1.2 #2",
		"22.0 1.5 inhale/return 1 right 1.2 #2",
		"23.5 0.5 inhale/pause  1 right 1.2 #2",
	)
	// Given phases: T = 4 + 5 + pP, with one pause in the lead-in and two in the
	// set; without them in breath-per-rep.
	for match, want := range map[sessions.Match][2]float64{
		sessions.ExhaleOnGlide: {60 / 9.5, 6},
		sessions.BreathPerRep:  {60.0 / 9, 60.0 / 9},
	} {
		s := paced(match, 0, 0, both)
		s.LeadIn, s.Breath.Ratio = 1, sessions.Ratio{}
		s.Breath.Inhale, s.Breath.Exhale = 4*time.Second, 5*time.Second
		if first, last := mustNew(t, s).Rates(); !near(first, want[0], 1e-12) || !near(last, want[1], 1e-12) {
			t.Errorf("%s: from %v to %v a minute, want %v to %v", match, first, last, want[0], want[1])
		}
	}
}

func TestOrder(t *testing.T) {
	s := paced(sessions.ExhaleOnGlide, 6, 1, exercise(1), exercise(1), exercise(1))
	s.LeadIn = 1
	a, b, c := &s.Exercises[0], &s.Exercises[1], &s.Exercises[2]
	a.Glide.Name, a.Side, a.Sets, a.SetUp, a.Rest = "a", sessions.Both, 2, 15*time.Second, 30*time.Second
	b.Glide.Name, b.Side, b.Sets, b.SetUp, b.Rest = "b", sessions.Left, 2, 0, 20*time.Second
	c.Glide.Name, c.Side, c.Sets, c.SetUp, c.Rest = "c", sessions.Both, 1, 5*time.Second, 0
	var got []string
	for _, st := range mustNew(t, s).Steps {
		part := "set"
		if st.Breath == pacer.Free {
			part = fmt.Sprintf("%s %gs", st.Move, st.Duration)
		} else if st.Exercise == 0 {
			part = "lead-in"
		}
		part = fmt.Sprintf("%d%s %s %d %s", st.Exercise, st.Glide, st.Side, st.Set, part)
		if len(got) == 0 || got[len(got)-1] != part {
			got = append(got, part)
		}
	}
	want := []string{
		"0  0 lead-in",
		"1a right 1 set-up 15s", "1a right 1 set", "1a right 1 shake 30s", "1a right 2 set", "1a right 2 shake 30s",
		"1a left 1 set-up 15s", "1a left 1 set", "1a left 1 shake 30s", "1a left 2 set", "1a left 2 shake 30s",
		"2b left 1 set", "2b left 1 shake 20s", "2b left 2 set", "2b left 2 shake 20s",
		"3c right 1 set-up 5s", "3c right 1 set", // a rest of 0 is left out
		"3c left 1 set-up 5s", "3c left 1 set", // no shake after the last set
	}
	if !slices.Equal(got, want) {
		t.Errorf("order:\n%s\nwant:\n%s", strings.Join(got, "\n"), strings.Join(want, "\n"))
	}
}

// The interchange form, to the last byte.
func TestJSON(t *testing.T) {
	ex := exercise(1)
	ex.Glide.Name, ex.Side, ex.SetUp, ex.Rest = "Own \"slide\"", sessions.Left, 15*time.Second, 30*time.Second
	s := paced(sessions.ExhaleOnGlide, 6, 2, ex, exercise(1))
	s.Title, s.LeadIn = "First week", 1
	s.Breath.Pause = 250 * time.Millisecond
	got, err := json.Marshal(mustNew(t, s))
	if err != nil {
		t.Fatal(err)
	}
	want := `{"title":"First week","duration_s":81.5,"breaths":5,"repetitions":2,"steps":[
{"start_s":0,"duration_s":3.25,"breath":"inhale","move":"rest","exercise":0,"glide":"","side":"","set":0,"rep":0,"rate_per_min":6},
{"start_s":3.25,"duration_s":6.5,"breath":"exhale","move":"rest","exercise":0,"glide":"","side":"","set":0,"rep":0,"rate_per_min":6},
{"start_s":9.75,"duration_s":0.25,"breath":"pause","move":"rest","exercise":0,"glide":"","side":"","set":0,"rep":0,"rate_per_min":6},
{"start_s":10,"duration_s":15,"breath":"free","move":"set-up","exercise":1,"glide":"Own \"slide\"","side":"left","set":1,"rep":0,"rate_per_min":0},
{"start_s":25,"duration_s":3.25,"breath":"inhale","move":"rest","exercise":1,"glide":"Own \"slide\"","side":"left","set":1,"rep":0,"rate_per_min":6},
{"start_s":28.25,"duration_s":6.5,"breath":"exhale","move":"glide","exercise":1,"glide":"Own \"slide\"","side":"left","set":1,"rep":1,"rate_per_min":6},
{"start_s":34.75,"duration_s":0.25,"breath":"pause","move":"pause","exercise":1,"glide":"Own \"slide\"","side":"left","set":1,"rep":1,"rate_per_min":6},
{"start_s":35,"duration_s":3.25,"breath":"inhale","move":"return","exercise":1,"glide":"Own \"slide\"","side":"left","set":1,"rep":1,"rate_per_min":6},
{"start_s":38.25,"duration_s":30,"breath":"free","move":"shake","exercise":1,"glide":"Own \"slide\"","side":"left","set":1,"rep":0,"rate_per_min":0},
{"start_s":68.25,"duration_s":3.25,"breath":"inhale","move":"rest","exercise":2,"glide":"wrist","side":"right","set":1,"rep":0,"rate_per_min":6},
{"start_s":71.5,"duration_s":6.5,"breath":"exhale","move":"glide","exercise":2,"glide":"wrist","side":"right","set":1,"rep":1,"rate_per_min":6},
{"start_s":78,"duration_s":0.25,"breath":"pause","move":"pause","exercise":2,"glide":"wrist","side":"right","set":1,"rep":1,"rate_per_min":6},
{"start_s":78.25,"duration_s":3.25,"breath":"inhale","move":"return","exercise":2,"glide":"wrist","side":"right","set":1,"rep":1,"rate_per_min":6}
]}`
	if w := strings.ReplaceAll(want, "\n", ""); string(got) != w {
		t.Errorf("JSON is\n%s\nwant\n%s", got, w)
	}
}

// JSON keeps every bit of a number.
func TestJSONIsNotRounded(t *testing.T) {
	tl := mustNew(t, paced(sessions.ExhaleOnGlide, 7, 1.7, exercise(9)))
	text, err := json.Marshal(tl)
	if err != nil {
		t.Fatal(err)
	}
	for i, s := range tl.Steps {
		if want := fmt.Sprintf(`{"start_s":%v,"duration_s":%v,`, s.Start, s.Duration); !strings.Contains(string(text), want) {
			t.Errorf("step %d is not %s", i, want)
		}
	}
}

// hour is a session of nearly 60 minutes whose cycle, 60/7 s, no binary
// number holds exactly: 60 breaths at rest, then 10 sets of 30 repetitions.
func hour(m sessions.Match) *sessions.Session {
	ex := exercise(30)
	ex.Sets, ex.SetUp, ex.Rest = 10, 15*time.Second, 50*time.Second
	rate := 7.0
	if m == sessions.BreathPerRep {
		rate, ex.Rest = 4.1, 47*time.Second
	}
	s := paced(m, rate, 1.5, ex)
	s.LeadIn = 60
	return s
}

// Through an hour of cycles that no binary number holds, and of a taper, every
// step starts within a nanosecond of the sum in 200 bits.
func TestNoDrift(t *testing.T) {
	tapered := hour(sessions.ExhaleOnGlide)
	tapered.Breath.Taper = &sessions.Taper{From: 14, Breaths: 60}
	for _, s := range []*sessions.Session{hour(sessions.ExhaleOnGlide), hour(sessions.BreathPerRep), tapered} {
		tl := mustNew(t, s)
		r := newReference(s)
		r.same(t, tl, r.rows(0, 1, 0))
		if tl.Duration < 3400 {
			t.Errorf("the session lasts %v s, want nearly an hour", tl.Duration)
		}
	}
}

// Onsets are rounded once: the sum of rounded durations would be another.
func TestOnsetsAreRoundedOnce(t *testing.T) {
	tl := mustNew(t, hour(sessions.ExhaleOnGlide))
	var summed time.Duration
	for i, s := range tl.Steps {
		if got, want := s.Onset(), time.Duration(math.Round(s.Start*1e9)); got != want {
			t.Fatalf("step %d: onset %v, want %v", i, got, want)
		}
		if got, want := float64(pacer.Frame(s.Start, 48000)), s.Start*48000; math.Abs(got-want) > 0.5 {
			t.Fatalf("step %d: frame %v, want the one nearest to %v", i, got, want)
		}
		summed += pacer.Seconds(s.Duration)
	}
	if summed == pacer.Seconds(tl.Duration) {
		t.Error("rounded durations add up exactly: this session shows nothing")
	}
	for _, c := range []struct {
		seconds float64
		rate    int
		want    int
	}{{0, 48000, 0}, {1, 48000, 48000}, {60.0 / 7, 48000, 411429}, {0.00001, 48000, 0}, {0.00002, 48000, 1}, {3599.99999, 44100, 158760000}} {
		if got := pacer.Frame(c.seconds, c.rate); got != c.want {
			t.Errorf("%v s at %d are frame %d, want %d", c.seconds, c.rate, got, c.want)
		}
	}
}

func TestTimelineOfAnySession(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		s := anySession.Draw(t, "session")
		r := newReference(s)
		tl := mustNew(t, s)
		r.same(t, tl, r.rows(0, 1, 0))
		if tl.Session() != s || tl.Title != s.Title {
			t.Errorf("the timeline is of %p %q, want %p %q", tl.Session(), tl.Title, s, s.Title)
		}
		moments(t, tl)
	})
}

// moments: At gives every moment to the step that holds it.
func moments(t failer, tl *pacer.Timeline) {
	t.Helper()
	for i, s := range tl.Steps {
		on := s.Onset()
		if got := tl.At(on); got != i {
			t.Fatalf("at the onset of step %d it is in step %d", i, got)
		}
		if got, want := tl.At(on-1), max(0, i-1); got != want {
			t.Fatalf("just before step %d it is in step %d, want %d", i, got, want)
		}
	}
	end := pacer.Seconds(tl.Duration)
	if got := tl.At(end - 1); got != len(tl.Steps)-1 {
		t.Fatalf("just before the end it is in step %d of %d", got, len(tl.Steps))
	}
	for _, d := range []time.Duration{end, end + time.Hour} {
		if got := tl.At(d); got != len(tl.Steps) {
			t.Fatalf("at %v of %v it is in step %d, want %d", d, end, got, len(tl.Steps))
		}
	}
}
