package pacer_test

import (
	"fmt"
	"strings"
	"time"

	"glidepace/pacer"
	"glidepace/sessions"
)

const file = `glidepace: 1
title: First week, right hand
breath: {rate: 6, ratio: "1:1.5"}
exercises:
  - {glide: median-wrist, side: right, reps: 2}
posture: none
set_up: 15s
`

// load reads and lays out a session file.
func load(text string) *pacer.Timeline {
	s, err := sessions.Parse("first-week.yaml", strings.NewReader(text))
	if err != nil {
		panic(err)
	}
	t, err := pacer.New(s)
	if err != nil {
		panic(err)
	}
	return t
}

// A session file becomes a timeline: each step with what breath and arm do.
func ExampleNew() {
	t := load(file)
	for _, s := range t.Steps {
		fmt.Printf("%5.1f s  %-6s  %-6s  %d\n", s.Start, s.Breath, s.Move, s.Rep)
	}
	fmt.Printf("%s, %d breaths, %d repetitions\n", pacer.Clock(t.Duration), t.Breaths, t.Repetitions)
	// Output:
	//   0.0 s  free    set-up  0
	//  15.0 s  inhale  rest    0
	//  18.8 s  exhale  glide   1
	//  24.5 s  pause   pause   1
	//  25.0 s  inhale  return  1
	//  28.8 s  exhale  glide   2
	//  34.5 s  pause   pause   2
	//  35.0 s  inhale  return  2
	// 0:39, 3 breaths, 2 repetitions
}

// What the values of a file add up to may be outside the limits, though each
// of them is allowed by itself.
func ExampleNew_refused() {
	s, err := sessions.Parse("quick.yaml", strings.NewReader(strings.Replace(file, "rate: 6", "rate: 28", 1)))
	if err != nil {
		panic(err)
	}
	_, err = pacer.New(s)
	fmt.Println(sessions.Join("quick.yaml", err))
	// Output:
	// quick.yaml:3:16: the movement (glide) takes 0.9857 s, at 28 breaths a minute: 1 s or more each way is allowed; breathe slower or move on the whole exhale
}

// Going on after a pause is a new timeline: one inhale at rest, then the
// interrupted repetition.
func ExampleTimeline_GoOn() {
	t := load(file)
	i := t.At(30 * time.Second)
	fmt.Printf("interrupted in repetition %d, in the %s\n", t.Steps[i].Rep, t.Steps[i].Move)
	for _, s := range t.GoOn(i).Steps {
		fmt.Printf("%4.1f s  %-6s  %-6s  %d\n", s.Start, s.Breath, s.Move, s.Rep)
	}
	// Output:
	// interrupted in repetition 2, in the glide
	//  0.0 s  inhale  rest    0
	//  3.8 s  exhale  glide   2
	//  9.5 s  pause   pause   2
	// 10.0 s  inhale  return  2
}

func ExampleCautions() {
	t := load(strings.Replace(file, "rate: 6", "rate: 3.8", 1))
	for _, c := range pacer.Cautions(t) {
		fmt.Printf("line %d: %s\n", c.Line, c.Text)
	}
	// Output:
	// line 3: 3.8 breaths a minute: outside 4 to 20 few people breathe with ease; watch for light-headedness
	// line 3: the inhale lasts 6.116 s: over 6 s many people breathe too deeply
	// line 3: the exhale lasts 9.174 s: over 8 s many people run out of breath
	// line 3: 3.8 breaths a minute is at or under the floor of easing, 6: after symptoms it cannot go slower, only smaller, and fewer
	// line 3: a movement takes 9.174 s one way: over 8 s it becomes a slow stretch
}

// Whoever changes how breath and movement are matched sees what it does to
// the movement.
func ExampleTempoOf() {
	s := load(file).Session()
	for _, m := range []sessions.Match{sessions.ExhaleOnGlide, sessions.BreathPerRep} {
		t := pacer.TempoOf(s, s.Exercises[0], m)
		fmt.Printf("%s: %g repetitions a minute, %.2f s out, %.2f s back\n", t.Match, t.RepsPerMin, t.OutSeconds, t.BackSeconds)
	}
	// Output:
	// exhale-on-glide: 6 repetitions a minute, 5.70 s out, 3.80 s back
	// breath-per-rep: 12 repetitions a minute, 2.75 s out, 2.75 s back
}
