package pacer_test

import (
	"math"
	"math/big"
	"time"

	"pgregory.net/rapid"

	"glidepace/pacer"
	"glidepace/sessions"
	"glidepace/sessions/glides"
)

// A second, plain reading of the pacing model, to hold the package against. It
// numbers the breaths of a set in closed form, adds up onsets in 200 bits and
// takes the taper by logarithms.

// row is a step as the model has it.
type row struct {
	breath, move    string
	number          int // of the paced breath; -1 where free
	exercise        int
	glide, side     string
	set, rep        int
	seconds, perMin float64

	part  int // index into reference.parts
	leads int // the repetition that an inhale at rest leads to
}

// part is a stretch of a session: its lead-in, or a set-up, set or shake.
type part struct {
	kind     string
	exercise int
	ex       sessions.Exercise
	side     string
	set      int
}

type reference struct {
	s     *sessions.Session
	parts []part
}

func newReference(s *sessions.Session) *reference {
	r := &reference{s: s, parts: []part{{kind: "lead-in"}}}
	for i, ex := range s.Exercises {
		sides := []string{ex.Side.String()}
		if ex.Side == sessions.Both {
			sides = []string{"right", "left"}
		}
		for _, side := range sides {
			r.parts = append(r.parts, part{"set-up", i + 1, ex, side, 1})
			for n := range ex.Sets {
				r.parts = append(r.parts, part{"set", i + 1, ex, side, n + 1}, part{"shake", i + 1, ex, side, n + 1})
			}
		}
	}
	r.parts = r.parts[:len(r.parts)-1] // no shake after the last set
	return r
}

// rows returns the steps from a part on, whose first breath has the number.
// A set begins with repetition rep, everything else has rep 1.
func (r *reference) rows(at, rep, number int) []row {
	var list []row
	for i := at; i < len(r.parts); i++ {
		p := r.parts[i]
		add := func(breath, move string, number, rep int, seconds, perMin float64) {
			w := row{breath: breath, move: move, number: number, exercise: p.exercise, glide: p.ex.Glide.Name,
				side: p.side, set: p.set, rep: rep, seconds: seconds, perMin: perMin, part: i}
			if seconds != 0 {
				list = append(list, w)
			}
		}
		switch p.kind {
		case "lead-in":
			for ; number < r.s.LeadIn; number++ {
				perMin, inhale, exhale := r.cycle(number, 1)
				add("inhale", "rest", number, 0, inhale, perMin)
				add("exhale", "rest", number, 0, exhale, perMin)
				if r.s.Breath.Match == sessions.ExhaleOnGlide {
					add("pause", "rest", number, 0, r.s.Breath.Pause.Seconds(), perMin)
				}
			}
		case "set-up":
			add("free", "set-up", -1, 0, p.ex.SetUp.Seconds(), 0)
		case "shake":
			add("free", "shake", -1, 0, p.ex.Rest.Seconds(), 0)
		case "set":
			pauses := 1
			if p.ex.BothEnds {
				pauses = 2
			}
			perMin, inhale, _ := r.cycle(number, pauses)
			add("inhale", "rest", number, 0, inhale, perMin)
			list[len(list)-1].leads = rep
			count := p.ex.Reps - rep + 1
			for k := 1; k <= count; k++ {
				if r.s.Breath.Match == sessions.ExhaleOnGlide {
					r.exhaleOnGlide(add, number+k-1, rep+k-1, pauses, k == count)
				} else {
					r.breathPerRep(add, number+k/2, rep+k-1, pauses, k%2 == 1)
				}
			}
			number += count + 1
			if r.s.Breath.Match == sessions.BreathPerRep {
				number -= count - count/2
			}
			rep = 1
		}
	}
	return list
}

type adder func(breath, move string, number, rep int, seconds, perMin float64)

func (r *reference) exhaleOnGlide(add adder, number, rep, pauses int, last bool) {
	pause := r.s.Breath.Pause.Seconds()
	perMin, _, exhale := r.cycle(number, pauses)
	add("exhale", "glide", number, rep, exhale, perMin)
	add("pause", "pause", number, rep, pause, perMin)
	perMin, inhale, _ := r.cycle(number+1, pauses)
	add("inhale", "return", number+1, rep, inhale, perMin)
	if pauses == 2 && !last {
		add("pause", "pause", number+1, rep, pause, perMin)
	}
}

func (r *reference) breathPerRep(add adder, number, rep, pauses int, out bool) {
	pause := r.s.Breath.Pause.Seconds()
	perMin, length, exhale := r.cycle(number, pauses)
	half := "inhale"
	if out {
		half, length = "exhale", exhale
	}
	each := (length - float64(pauses)*pause) / 2
	add(half, "glide", number, rep, each, perMin)
	add(half, "pause", number, rep, pause, perMin)
	add(half, "return", number, rep, each, perMin)
	if pauses == 2 {
		add(half, "pause", number, rep, pause, perMin)
	}
}

// cycle returns breath j with p pauses.
func (r *reference) cycle(j, p int) (perMin, inhale, exhale float64) {
	b := r.s.Breath
	turning := 0.0
	if b.Match == sessions.ExhaleOnGlide {
		turning = float64(p) * b.Pause.Seconds()
	}
	if b.Rate == 0 {
		inhale, exhale = b.Inhale.Seconds(), b.Exhale.Seconds()
		return 60 / (inhale + exhale + turning), inhale, exhale
	}
	perMin = b.Rate
	if b.Taper != nil && j < b.Taper.Breaths {
		done := float64(j) / float64(b.Taper.Breaths)
		perMin = math.Exp((1-done)*math.Log(b.Taper.From) + done*math.Log(b.Rate))
	}
	flow := 60/perMin - turning
	inhale = flow / (1 + b.Ratio.Exhale/b.Ratio.Inhale)
	return perMin, inhale, flow - inhale
}

// goOn returns what is left after an interruption in row i.
func (r *reference) goOn(rows []row, i int) []row {
	if i >= len(rows) {
		return nil
	}
	w := rows[i]
	switch r.parts[w.part].kind {
	case "lead-in":
		return r.rows(w.part, 1, w.number)
	case "set-up", "shake":
		for _, later := range rows[i:] {
			if later.number >= 0 {
				return r.rows(w.part, 1, later.number)
			}
		}
	}
	perRep := r.s.Breath.Match == sessions.BreathPerRep
	switch {
	case w.rep == 0:
		return r.rows(w.part, w.leads, w.number)
	case w.move == "return" && !perRep:
		return r.rows(w.part, w.rep, w.number-1) // the return's inhale is the next breath
	case w.move == "pause" && rows[i-1].move == "return":
		switch {
		case w.rep == w.exOf(r).Reps:
			return r.rows(w.part+1, 1, w.number+1)
		case perRep && w.breath == "exhale":
			return r.rows(w.part, w.rep+1, w.number+1)
		}
		return r.rows(w.part, w.rep+1, w.number)
	}
	return r.rows(w.part, w.rep, w.number)
}

// enough returns what is left when the set of row i is ended there.
func (r *reference) enough(rows []row, i int) []row {
	if i >= len(rows) || r.parts[rows[i].part].kind != "set" {
		return r.goOn(rows, i)
	}
	return r.rows(rows[i].part+1, 1, rows[i].number+1)
}

func (w row) exOf(r *reference) sessions.Exercise { return r.parts[w.part].ex }

// failer is a *testing.T or a *rapid.T.
type failer interface {
	Helper()
	Errorf(string, ...any)
	Fatalf(string, ...any)
}

// same compares a timeline with the rows that the reference has for it.
func (r *reference) same(t failer, got *pacer.Timeline, want []row) {
	t.Helper()
	if len(got.Steps) != len(want) {
		t.Fatalf("%d steps, want %d", len(got.Steps), len(want))
	}
	onset := new(big.Float).SetPrec(200)
	inhales, reps, sets := map[int]bool{}, map[[2]int]bool{}, map[int]bool{}
	for i, w := range want {
		g := got.Steps[i]
		h := row{breath: g.Breath.String(), move: g.Move.String(), number: g.BreathNumber, exercise: g.Exercise,
			glide: g.Glide, side: g.Side.String(), set: g.Set, rep: g.Rep,
			seconds: w.seconds, perMin: w.perMin, part: w.part, leads: w.leads}
		if h != w {
			t.Fatalf("step %d is %+v, want %+v", i, h, w)
		}
		if !near(g.Duration, w.seconds, 1e-12) || !near(g.Rate, w.perMin, 1e-12) || g.Duration <= 0 {
			t.Fatalf("step %d lasts %v s at %v a minute, want %v s at %v", i, g.Duration, g.Rate, w.seconds, w.perMin)
		}
		if at, _ := onset.Float64(); math.Abs(g.Start-at) > 1e-9 {
			t.Fatalf("step %d starts at %v s, want %v", i, g.Start, at)
		}
		onset.Add(onset, big.NewFloat(w.seconds))
		kind := r.parts[w.part].kind
		if w.breath == "inhale" {
			inhales[w.number] = true
		}
		if w.rep > 0 {
			reps[[2]int{w.part, w.rep}] = true
		}
		if kind == "set" {
			sets[w.part] = true
			if n := got.RepsInSet(g); n != w.exOf(r).Reps {
				t.Fatalf("step %d is of a set of %d repetitions, want %d", i, n, w.exOf(r).Reps)
			}
		}
		if g.InSet() != (kind == "set") {
			t.Fatalf("step %d of a %s: in a set is %v", i, kind, g.InSet())
		}
		if (got.ExerciseOf(g) == nil) != (kind == "lead-in") || got.SetsOnSide(g) != w.exOf(r).Sets {
			t.Fatalf("step %d of a %s: exercise %v, %d sets", i, kind, got.ExerciseOf(g), got.SetsOnSide(g))
		}
	}
	if length, _ := onset.Float64(); math.Abs(got.Duration-length) > 1e-9 {
		t.Fatalf("lasts %v s, want %v", got.Duration, length)
	}
	if got.Breaths != len(inhales) || got.Repetitions != len(reps) || len(got.Sets()) != len(sets) {
		t.Fatalf("%d breaths, %d repetitions, %d sets; want %d, %d, %d",
			got.Breaths, got.Repetitions, len(got.Sets()), len(inhales), len(reps), len(sets))
	}
}

// near reports whether a and b differ by no more than part of b.
func near(a, b, part float64) bool { return math.Abs(a-b) <= part*math.Abs(b) }

// anySession draws sessions of every kind that lie inside the hard limits.
var anySession = rapid.Custom(func(t *rapid.T) *sessions.Session {
	ms := func(label string, least, most int) time.Duration {
		return time.Duration(rapid.IntRange(least, most).Draw(t, label)) * time.Millisecond
	}
	orNone := func(label string, most int) time.Duration {
		if rapid.Bool().Draw(t, label+" none") {
			return 0
		}
		return ms(label, 1, most)
	}
	s := &sessions.Session{Posture: sessions.PostureNone, Title: "any", LeadIn: rapid.IntRange(0, 6).Draw(t, "lead-in")}
	s.Breath.Match = rapid.SampledFrom([]sessions.Match{sessions.ExhaleOnGlide, sessions.BreathPerRep}).Draw(t, "match")
	s.Breath.Pause = orNone("pause", 999)

	// The shortest cycle that leaves a movement more than 1 s each way, the
	// longest under 20 s whose phases stay under 15 s. Parts of the ratio are
	// from 1 to 2, so neither phase has more than two thirds.
	a, b := rapid.Float64Range(1, 2).Draw(t, "a"), rapid.Float64Range(1, 2).Draw(t, "b")
	stop := 2 * s.Breath.Pause.Seconds()
	shortest, share := 1.05*(a+b)/min(a, b)+stop, a/(a+b)
	if s.Breath.Match == sessions.BreathPerRep {
		shortest = (2.1 + stop) * (a + b) / min(a, b)
	}
	cycle := rapid.Float64Range(shortest, 19.9)
	if T := cycle.Draw(t, "cycle"); rapid.Bool().Draw(t, "phases") {
		if s.Breath.Match == sessions.ExhaleOnGlide {
			T -= stop
		}
		s.Breath.Inhale = pacer.Seconds(T * share).Round(time.Millisecond)
		s.Breath.Exhale = pacer.Seconds(T - T*share).Round(time.Millisecond)
	} else {
		s.Breath.Rate, s.Breath.Ratio = 60/T, sessions.Ratio{Inhale: a, Exhale: b}
		if rapid.Bool().Draw(t, "taper") {
			from := cycle.Draw(t, "first cycle")
			s.Breath.Taper = &sessions.Taper{From: 60 / from,
				Breaths: rapid.IntRange(1+int(math.Abs(math.Log(from/T))/math.Log(1.1)), 60).Draw(t, "breaths")}
		}
	}
	for range rapid.IntRange(1, 3).Draw(t, "exercises") {
		s.Exercises = append(s.Exercises, sessions.Exercise{
			Glide:    glides.Glide{Name: rapid.SampledFrom([]string{"one", "two"}).Draw(t, "glide"), Raised: rapid.Bool().Draw(t, "raised")},
			Side:     rapid.SampledFrom([]sessions.Side{sessions.Right, sessions.Left, sessions.Both}).Draw(t, "side"),
			Sets:     rapid.IntRange(1, 2).Draw(t, "sets"),
			Reps:     rapid.IntRange(1, 6).Draw(t, "reps"),
			Rest:     orNone("rest", 60_000),
			SetUp:    orNone("set-up", 60_000),
			BothEnds: rapid.Bool().Draw(t, "both ends"),
		})
	}
	return s
})

// mustNew lays out a session that is inside the limits.
func mustNew(t failer, s *sessions.Session) *pacer.Timeline {
	t.Helper()
	tl, err := pacer.New(s)
	if err != nil {
		t.Fatalf("a session inside the limits is refused: %v", err)
	}
	return tl
}
