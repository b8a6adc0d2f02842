package screen_test

import (
	"os"
	"strings"

	"glidepace/devices/screen"
	"glidepace/pacer"
	"glidepace/sessions"
)

func ExampleLines() {
	s, err := sessions.Parse("wrist.yaml", strings.NewReader(`
glidepace: 1
title: Wrist, right
breath: {rate: 6, ratio: "1:1.5"}
posture: short
exercises: [{glide: median-wrist, side: right, reps: 1}]
`))
	if err != nil {
		panic(err)
	}
	t, err := pacer.New(s)
	if err != nil {
		panic(err)
	}

	// A pacer.Conductor tells these events as they are heard.
	lines := screen.NewLines(os.Stdout)
	lines.Follow(pacer.Event{Kind: pacer.Began, Timeline: t})
	for i, step := range t.Steps {
		lines.Follow(pacer.Event{Kind: pacer.Stepped, Timeline: t, Step: i, Session: step.Onset()})
	}
	// Output:
	// 0:00.0  Wrist, right, 0:30
	// 0:00.0  take your place, hands off the keyboard, 6 seconds, breathe as you like
	//         Sit or stand tall, shoulders low.
	// 0:06.0  right side, get ready, wrist glide for the median nerve, palm forward, 10 seconds, breathe as you like
	// 0:16.0  inhale, right side, set 1 of 1, 1 repetition
	// 0:19.8  exhale, bend the wrist back, 1 of 1
	// 0:25.5  wrist bent back
	// 0:26.0  inhale, let the hand relax
}
