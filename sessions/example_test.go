package sessions_test

import (
	"fmt"
	"os"
	"strings"

	"glidepace/sessions"
)

func ExampleParse() {
	f, err := os.Open("../testdata/sessions/one-minute.yaml")
	if err != nil {
		fmt.Println(err)
		return
	}
	defer f.Close()
	s, err := sessions.Parse("one-minute.yaml", f)
	if err != nil {
		fmt.Println(err)
		return
	}
	e := s.Exercises[0]
	fmt.Printf("%s: %d × %s, %s, %g breaths a minute\n", s.Title, e.Reps, e.Glide.Name, e.Side, s.Breath.Rate)
	fmt.Println("repetitions stand at", s.Place("exercises[0].reps"))
	// Output:
	// One minute to try it out: 3 × median-wrist, right, 8 breaths a minute
	// repetitions stand at {13 11}
}

func ExampleError() {
	_, err := sessions.Parse("demo.yaml", strings.NewReader(`glidepace: 1
title: Demo
breath: {rate: 8, pause: 0.5}
exercises:
  - glide: median-wrist
    side: rigth
    rpes: 10
`))
	fmt.Println(err)
	// Output:
	// demo.yaml:3:26: pause: "0.5" has no unit; if seconds are meant, write "0.5s"; allowed: 0s or more, under 1s
	// demo.yaml:5:5: "reps" is missing; add it, such as "reps: 10"
	// demo.yaml:6:11: side: "rigth" is not known (did you mean "right"?); allowed: left, right, both
	// demo.yaml:7:5: "rpes": unknown key (did you mean "reps"?); allowed here: glide, own, side, sets, reps, rest, set_up, range, pause_at, note
}
