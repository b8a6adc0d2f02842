package pacer_test

import (
	"errors"
	"fmt"
	"math"
	"strings"
	"testing"
	"unicode/utf8"

	"pgregory.net/rapid"

	"glidepace/pacer"
	"glidepace/sessions"
)

// read reads a session file in which «» stand around the text whose place is
// returned; the file begins with its version and title. What the parser and
// the model refuse comes in one list.
func read(t *testing.T, file string) (*pacer.Timeline, []sessions.Problem, sessions.Place) {
	t.Helper()
	file = "glidepace: 1\ntitle: Limits\n" + file
	before, _, ok := strings.Cut(file, "«")
	if !ok {
		t.Fatalf("no place is marked in %s", file)
	}
	at := sessions.Place{Line: 1 + strings.Count(before, "\n"), Column: 1 + utf8.RuneCountInString(before[1+strings.LastIndex(before, "\n"):])}
	file = strings.NewReplacer("«", "", "»", "").Replace(file)

	var problems []sessions.Problem
	collect := func(err error) {
		var e *sessions.Error
		if errors.As(err, &e) {
			problems = append(problems, e.Problems...)
		} else if err != nil {
			t.Fatalf("%v is no list of problems", err)
		}
	}
	s, err := sessions.Parse("limits.yaml", strings.NewReader(file))
	collect(err)
	if s == nil {
		return nil, problems, at
	}
	tl, err := pacer.New(s)
	collect(err)
	if (tl == nil) != (err != nil) {
		t.Fatalf("timeline %v beside the error %v", tl, err)
	}
	return tl, problems, at
}

// mustRead reads a file that nothing is wrong with.
func mustRead(t *testing.T, file string) (*pacer.Timeline, sessions.Place) {
	t.Helper()
	tl, problems, at := read(t, file)
	if tl == nil || len(problems) > 0 {
		t.Fatalf("%s\nis refused: %v", file, problems)
	}
	return tl, at
}

// limit is a file with a value that is just inside or just outside a limit,
// and what a finding about it says.
type limit struct{ name, file, inside, outside, says string }

const (
	once    = "\nexercises: [{own: {name: slide, start: low, out: up, back: down}, side: right, reps: 1}]\n"
	both    = "\nexercises: [{own: {name: slide, start: low, out: up, back: down}, side: right, reps: 1, pause_at: both}]\n"
	twice   = "\nexercises: [{own: {name: slide, start: low, out: up, back: down}, side: right, reps: 2}]\n"
	raised  = "\nexercises: [{glide: median-wrist, side: right, reps: «10»}]\n"
	own     = "{own: {name: slide, start: low, out: up, back: down}, side: right, reps: 1}"
	perRep  = "match: breath-per-rep"
	noPause = "pause: 0s"
)

// The hard limits are common practice, no source: that they are kept is what
// is tested.
var hardLimits = []limit{
	{"pause", "breath: {rate: 6, pause: «%s»}" + once, "999ms", "1s", "pause"},
	{"rate, slow", "breath: {rate: «%s», " + noPause + "}" + once, "3", "2.99", "rate"},
	{"rate, fast", "breath: {rate: «%s», " + noPause + "}" + once, "30", "30.1", "rate"},
	{"taper, slow", "breath: {rate: 4, " + noPause + ", taper: {from: «%s», breaths: 5}}" + once, "3", "2.9", "from"},
	{"taper, fast", "breath: {rate: 20, " + noPause + ", taper: {from: «%s», breaths: 9}}" + once, "30", "30.1", "from"},
	{"rate of given phases", "breath: {inhale: «10s», exhale: %s, " + noPause + "}" + once, "10s", "10.01s", "breaths a minute"},
	{"rate with the second pause", "breath: {inhale: «9.5s», exhale: 9.5s, pause: %s}" + both, "500ms", "501ms", "breaths a minute"},

	{"inhale, short", "breath: {" + perRep + ", inhale: «%s», exhale: 3s}" + once, "500ms", "499ms", "inhale"},
	{"inhale, long", "breath: {inhale: «%s», exhale: 4s, " + noPause + "}" + once, "15s", "15001ms", "inhale"},
	{"exhale, long", "breath: {inhale: 4s, exhale: «%s», " + noPause + "}" + once, "15s", "15001ms", "exhale"},
	{"inhale of a ratio, short", "breath: {" + perRep + ", rate: «20», ratio: \"1:%s\", pause: 0s}" + once, "5", "5.1", "inhale"},
	{"inhale of a ratio, long", "breath: {rate: «3», ratio: \"%s:1\", pause: 0s}" + once, "3", "3.1", "inhale"},
	{"exhale of a ratio, long", "breath: {rate: «3», ratio: \"1:%s\", pause: 0s}" + once, "3", "3.1", "exhale"},
	{"exhale of the taper", "breath: {rate: 5, ratio: \"1:%s\", taper: {from: «3», breaths: 9}, pause: 0s}" + once, "3", "3.1", "exhale"},
	{"exhale after the taper", "breath: {rate: «3», ratio: \"1:%s\", taper: {from: 3.2, breaths: 1}, pause: 0s}" + twice, "3", "3.1", "exhale"},
	{"exhale at rest", "breath: {rate: «3», ratio: \"1:%s\", pause: 900ms}\nlead_in: {breaths: 1}" + both, "3.65", "3.7", "exhale"}, // 19.1 s in the lead-in, 18.2 s in the set

	{"movement out", "breath: {inhale: 3s, exhale: «%s»}" + once, "1s", "999ms", "glide"},
	{"movement back", "breath: {inhale: «%s», exhale: 3s}" + once, "1s", "999ms", "return"},
	{"movement on a ratio", "breath: {rate: «15», ratio: \"1:%s\", pause: 0s}" + once, "3", "3.1", "return"},
	{"movement with one pause", "breath: {rate: «%s», pause: 500ms}" + once, "24", "24.1", "glide"},
	{"movement with two pauses", "breath: {rate: «%s», pause: 500ms}" + both, "20", "20.1", "glide"},
	{"movement in the taper", "breath: {rate: 20, taper: {from: «%s», breaths: 5}}" + once, "24", "24.1", "glide"},
	{"movement on an exhale", "breath: {" + perRep + ", inhale: 3s, exhale: «%s»}" + once, "2.5s", "2499ms", "glide"},
	{"movement on an inhale", "breath: {" + perRep + ", inhale: «%s», exhale: 3s}" + twice, "2.5s", "2499ms", "glide"},
	{"movement on an exhale, both ends", "breath: {" + perRep + ", inhale: 4s, exhale: «%s»}" + both, "3s", "2999ms", "glide"},
	{"no time to move", "breath: {" + perRep + ", inhale: 3s, exhale: «%s», pause: 500ms}" + once, "2.5s", "500ms", "glide"},
	{"no time to move, both ends", "breath: {" + perRep + ", inhale: 3s, exhale: «%s», pause: 500ms}" + both, "3s", "1s", "glide"},

	{"repetitions", "breath: {rate: 6}\nexercises: [{glide: median-wrist, side: right, reps: «%s»}]", "30", "31", "reps"},
	{"sessions a day", "dose: {per_day: «%s»}\nbreath: {rate: 6}" + once, "5", "6", "per_day"},
	{"sessions a day, a range", "dose: {per_day: «%s»}\nbreath: {rate: 6}" + once, "1-5", "1-6", "per_day"},
	{"taper step, slower", "breath: {rate: 10, «taper»: {from: %s, breaths: 1}}" + once, "11", "11.01", "taper"},
	{"taper step, faster", "breath: {rate: 11, «taper»: {from: %s, breaths: 1}}" + once, "10", "9.99", "taper"},
	{"taper step of several", "breath: {rate: 8, «taper»: {from: 12, breaths: %s}}" + once, "5", "4", "9 breaths would do"}, // 1.5^(1/5) = 1.084, 1.5^(1/4) = 1.107; 1.5^(1/9) = 1.046

	// 60 breaths of 10 s, 10 sets of 24·10 + 5 s, 9 rests of 30 s, 280 s: 3600 s.
	{"length", "posture: none\nbreath: {rate: 6, pause: 0s}\nlead_in: {breaths: 60}\n" +
		"«exercises»: [{glide: median-elbow, side: right, sets: 10, reps: 24, set_up: %s}]\n", "280s", "280001ms", "60 minutes"},
}

func TestHardLimits(t *testing.T) {
	for _, l := range hardLimits {
		t.Run(l.name, func(t *testing.T) {
			mustRead(t, fmt.Sprintf(l.file, l.inside))
			_, problems, at := read(t, fmt.Sprintf(l.file, l.outside))
			wantFinding(t, l.outside, problems, at, l.says)
		})
	}
}

// wantFinding wants one finding, at a place, that says something.
func wantFinding(t *testing.T, value string, found []sessions.Problem, at sessions.Place, says string) {
	t.Helper()
	if len(found) != 1 {
		t.Fatalf("%s: %d findings, want one: %v", value, len(found), found)
	}
	if p := found[0]; p.Place != at || !strings.Contains(p.Text, says) {
		t.Errorf("%s: %v, want one at %v about %q", value, p, at, says)
	}
}

// The movement limit is one of the arm: at rest, and on an inhale on which
// nothing moves, a breath may be quicker.
func TestMovementLimitHoldsWhereTheArmMoves(t *testing.T) {
	for _, file := range []string{
		"breath: {rate: 20, taper: {«from»: 30, breaths: 5}}\nlead_in: {breaths: 5}" + once, // 0.75 s each way
		"breath: {" + perRep + ", «inhale»: 800ms, exhale: 3s}" + once,
	} {
		mustRead(t, file)
	}
	_, problems, at := read(t, "breath: {rate: 20, taper: {from: «30», breaths: 5}}\nlead_in: {breaths: 1}"+once)
	wantFinding(t, "a lead-in that ends before the taper", problems, at, "glide")
}

func TestEverythingOutsideIsReportedAtOnce(t *testing.T) {
	_, problems, _ := read(t, "breath: {rate: «3», ratio: \"1:4\", taper: {from: 30, breaths: 2}, pause: 0s}\nlead_in: {breaths: 60}\n"+
		"exercises: [{glide: median-elbow, side: both, sets: 10, reps: 30}]\n")
	var found []string
	for _, p := range problems {
		found = append(found, fmt.Sprintf("%d:%d", p.Line, p.Column))
	}
	want := "3:33 3:47 3:16 5:1" // the taper's step, a phase in the taper, one after it, the length
	if got := strings.Join(found, " "); got != want {
		t.Errorf("found at %s, want %s:\n%v", got, want, problems)
	}
}

// A change is told as the longer breath against the shorter, so that what is
// refused as more than 10 % never reads as less.
func TestTaperStepIsToldAsItIsJudged(t *testing.T) {
	for _, file := range []string{
		"breath: {rate: 10, «taper»: {from: 11.05, breaths: 1}}" + once,
		"breath: {rate: 11.05, «taper»: {from: 10, breaths: 1}}" + once,
	} {
		_, problems, at := read(t, file)
		wantFinding(t, file, problems, at, "10.5 %")
	}
}

// loose draws sessions whose values the parser takes, inside the limits of the
// timeline or not.
var loose = rapid.Custom(func(t *rapid.T) *sessions.Session {
	s := anySession.Draw(t, "session")
	b := &s.Breath
	if b.Rate > 0 {
		b.Rate = rapid.Float64Range(3, 30).Draw(t, "rate")
		b.Ratio = sessions.Ratio{Inhale: rapid.Float64Range(0.1, 10).Draw(t, "a"), Exhale: rapid.Float64Range(0.1, 10).Draw(t, "b")}
		if b.Taper != nil {
			b.Taper = &sessions.Taper{From: rapid.Float64Range(3, 30).Draw(t, "from"), Breaths: rapid.IntRange(1, 30).Draw(t, "breaths")}
		}
	} else {
		b.Inhale = pacer.Seconds(rapid.Float64Range(0.5, 15).Draw(t, "inhale"))
		b.Exhale = pacer.Seconds(rapid.Float64Range(0.5, 15).Draw(t, "exhale"))
	}
	for i := range s.Exercises {
		s.Exercises[i].Sets = rapid.IntRange(1, 10).Draw(t, "sets")
		s.Exercises[i].Reps = rapid.IntRange(1, 30).Draw(t, "reps")
	}
	return s
})

// A session is refused exactly where a step of it, as the reference has them,
// is outside a hard limit.
func TestRefusedExactlyOutsideTheLimits(t *testing.T) {
	refused, taken := 0, 0
	rapid.Check(t, func(t *rapid.T) {
		s := loose.Draw(t, "session")
		margin := newReference(s).margin()
		if math.Abs(margin) < 1e-6 {
			return // too near to tell by this reckoning
		}
		tl, err := pacer.New(s)
		if (err == nil) != (margin > 0) {
			t.Fatalf("margin %v, refused: %v", margin, err)
		}
		if err != nil {
			refused++
			return
		}
		taken++
		pacer.Cautions(tl)
	})
	if refused == 0 || taken == 0 {
		t.Errorf("%d refused, %d taken: nothing was tested", refused, taken)
	}
}

// margin returns how far the session is inside the hard limits: the least
// share of a limit that is left, negative outside.
func (r *reference) margin() float64 {
	margin := math.Inf(1)
	least := func(value, limit float64) { margin = min(margin, value/limit-1) }
	most := func(value, limit float64) { margin = min(margin, 1-value/limit) }
	type phase struct {
		number int
		breath string
	}
	phases := map[phase]float64{}
	length := 0.0
	for _, w := range r.rows(0, 1, 0) {
		length += w.seconds
		if w.breath == "free" {
			continue
		}
		least(w.perMin, 3)
		most(w.perMin, 30)
		if w.move == "glide" || w.move == "return" {
			least(w.seconds, 1)
		}
		if w.breath != "pause" {
			phases[phase{w.number, w.breath}] += w.seconds
		}
	}
	for _, seconds := range phases {
		least(seconds, 0.5)
		most(seconds, 15)
	}
	most(length, 3600)
	if taper := r.s.Breath.Taper; taper != nil {
		q := math.Pow(taper.From/r.s.Breath.Rate, 1/float64(taper.Breaths))
		most(max(q, 1/q), 1.1)
	}
	return margin
}

func TestClock(t *testing.T) {
	for seconds, want := range map[float64]string{0: "0:00", 0.4: "0:00", 59.4: "0:59", 59.5: "1:00", 125: "2:05",
		3599.4: "59:59", 3599.5: "1:00:00", 3725: "1:02:05"} {
		if got := pacer.Clock(seconds); got != want {
			t.Errorf("%v s is written %s, want %s", seconds, got, want)
		}
	}
}
