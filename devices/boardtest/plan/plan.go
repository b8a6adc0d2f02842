//go:build real

// Package plan holds what a test and its machine tell each other: what to do, as a
// file in the machine, and what was seen, printed on the serial console at the end.
//
// All moments are of the machine's CLOCK_MONOTONIC, which counts from the boot and
// which setting the clock does not change.
package plan

import (
	"fmt"
	"regexp"
	"strconv"
	"strings"
	"time"
)

// File is where the plan is in the machine.
const File = "/plan.json"

// Program is where the program is in the machine.
const Program = "/program"

// Lines is the number of lines of the simulated chip: those of a Raspberry
// Pi's header chip, named GPIO0 to GPIO53.
const Lines = 54

// Plan is what is done in the machine.
type Plan struct {
	Args    []string  // the program's arguments
	Clock   time.Time // what the clock is set to before it starts; zero: as booted
	Modules []string  // kernel modules to load, in order, as files in /modules

	Busy int // so many programs beside it never rest

	DiskType string // file system of the disk, mounted on /data; "" for no disk
	System   bool   // the disk holds a system: it is started, and nothing else of the plan is done

	Steps []Step        // done one after the other while the program runs
	Limit time.Duration // after this long the program is killed
}

// Step is done while the program runs. On and After say when, the other fields
// what.
type Step struct {
	On    string        `json:",omitzero"` // wait for a line of the program that matches, after the lines of earlier steps
	After time.Duration `json:",omitzero"` // wait so long after that line; without On, after the program's start

	Low    string        `json:",omitzero"` // pull this line low ("GPIO27"): a press, for a button to ground
	High   string        `json:",omitzero"` // pull this line high: its release
	Signal string        `json:",omitzero"` // send the program this signal ("KILL", "TERM", …)
	Shift  time.Duration `json:",omitzero"` // set CLOCK_REALTIME forward or back
}

// Report is what was seen in the machine.
type Report struct {
	Trouble string // why the plan could not be followed; "" when it was

	Started, Ended time.Duration // the program's start and end
	Exit           int           // its exit status; -1 if a signal ended it
	CPU            time.Duration // its processor time, of user and system
	MaxRSS         int64         // the most memory it had, in bytes

	Edges    []Edge
	Requests []Request
	Marks    []Line // steps done
	High     []int  // lines that were high after the program had ended
}

// Edge is an output level that the program set, be it the same as before.
type Edge struct {
	At   time.Duration
	Line int
	High bool
	By   int // the thread that set it
}

var traced = regexp.MustCompile(`-(\d+) .* (\d+)\.(\d{6}): gpio_value: (\d+) set (\d)$`)

// ReadTrace reads the kernel's trace of the levels set on the lines of the chip
// whose line 0 has the number base.
func ReadTrace(trace string, base int) ([]Edge, error) {
	var edges []Edge
	for line := range strings.Lines(trace) {
		line = strings.TrimSpace(line)
		if line == "" || strings.HasPrefix(line, "#") {
			continue
		}
		m := traced.FindStringSubmatch(line)
		if m == nil {
			return nil, fmt.Errorf("trace: not understood (events lost?): %s", line)
		}
		var n [4]int // thread, seconds, microseconds, line
		for i := range n {
			n[i], _ = strconv.Atoi(m[1+i])
		}
		if l := n[3] - base; 0 <= l && l < Lines {
			edges = append(edges, Edge{
				At:   time.Duration(n[1])*time.Second + time.Duration(n[2])*time.Microsecond,
				Line: l, High: m[5] == "1", By: n[0],
			})
		}
	}
	return edges, nil
}

// Request is a change of who holds a line.
type Request struct {
	At   time.Duration
	Line int
	Held bool
}

// Line is a line of text and the moment it was seen.
type Line struct {
	At   time.Duration
	Text string
}
