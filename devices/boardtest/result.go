//go:build real && linux

package boardtest

import (
	"time"

	"glidepace/devices/boardtest/plan"
)

// Result is what was seen of a machine. All moments but Took are of one clock,
// the machine's CLOCK_MONOTONIC.
type Result struct {
	plan.Report
	Console []Line        // what the program printed; a line's moment is when it arrived
	Took    time.Duration // by the host's clock, from start to power off
}

// Texts returns what the program printed.
func (r *Result) Texts() []string {
	var list []string
	for _, l := range r.Console {
		list = append(list, l.Text)
	}
	return list
}

// Changes returns the edges of a line that changed its level, which is low at
// first.
func (r *Result) Changes(line int) []Edge {
	var changes []Edge
	high := false
	for _, e := range r.Edges {
		if e.Line == line && e.High != high {
			changes = append(changes, e)
			high = e.High
		}
	}
	return changes
}

// Released returns when the program, or the kernel for it, last let go of a
// line, or 0 if it never held it or still does.
func (r *Result) Released(line int) time.Duration {
	var at time.Duration
	for _, q := range r.Requests {
		if q.Line == line {
			at = 0
			if !q.Held {
				at = q.At
			}
		}
	}
	return at
}
