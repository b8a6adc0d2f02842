//go:build real && linux

package main

import (
	"fmt"
	"slices"
	"strings"
	"testing"
	"time"

	"glidepace/devices/boardtest"
	"glidepace/devices/buzzer"
	"glidepace/pacer"
)

// The pins of a box file that says nothing of them.
const (
	buzzerLine = 17
	lightLine  = 22
	buttonPin  = "GPIO27"
)

// boxSession takes half a minute and has both breaths, a set-up and a shake.
const boxSession = `glidepace: 1
title: On the box
patient: DEMO-1
breath: {rate: 12, ratio: "1:1.5"}
lead_in: {breaths: 1}
set_up: 2s
exercises: [{glide: median-wrist, side: right, reps: 2, sets: 2, rest: 3s}]
`

const boxFile = "glidepace-box: 1\nname: Test box\nsound: off\n"

// onTheBox is a machine that runs the box without a disk.
func onTheBox(session string, steps ...boardtest.Step) boardtest.Machine {
	return boardtest.Machine{
		Program: "glidepace/cmd/glidepace",
		Files:   map[string][]byte{"/box/box.yaml": []byte(boxFile), "/box/session.yaml": []byte(session)},
		Kernel:  "initcall_blacklist=pl031_driver_init", // no battery clock
		Plan:    boardtest.Plan{Args: []string{"box", "run", "/box/box.yaml"}, Steps: steps, Limit: 10 * time.Minute},
	}
}

// pressed is a press of the button that begins so long after the program.
func pressed(at, length time.Duration) []boardtest.Step {
	return []boardtest.Step{{After: at, Low: buttonPin}, {After: at + length, High: buttonPin}}
}

const tap = 200 * time.Millisecond

// boxPatterns returns the edges that a buzzer makes for t, from its first step
// on, heard at 0.
func boxPatterns(t *pacer.Timeline) []time.Duration {
	var edges []time.Duration
	for i := range len(t.Steps) + 1 {
		p, ok := buzzer.Cue(t, i)
		if !ok {
			continue
		}
		at := pacer.Seconds(t.Duration)
		if i < len(t.Steps) {
			at = t.Steps[i].Onset()
		}
		for _, e := range p.Edges(buzzer.DefaultLead) {
			edges = append(edges, at-buzzer.DefaultLead+e.At)
		}
	}
	return edges
}

func TestSmokeBox(t *testing.T) {
	steps := slices.Concat(pressed(time.Second, tap), []boardtest.Step{{On: "nobody said", Signal: "TERM"}})
	r := onTheBox(boxSession, steps...).Run(t)
	for _, l := range r.Console {
		fmt.Println(l.At, l.Text)
	}
	fmt.Println(strings.Join(r.Raw[max(0, len(r.Raw)-3):], "\n"))
	fmt.Println(len(r.Changes(buzzerLine)), len(r.Changes(lightLine)), r.Exit, r.CPU, r.MaxRSS)
}
