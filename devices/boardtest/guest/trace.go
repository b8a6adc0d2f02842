//go:build real && linux

package main

import (
	"fmt"
	"os"
	"regexp"
	"strconv"
	"strings"
	"time"

	"glidepace/devices/boardtest/plan"
)

const tracing = "/sys/kernel/tracing/"

// startTrace has the kernel note each level that is set, by CLOCK_MONOTONIC.
func startTrace() error {
	for file, value := range map[string]string{
		"trace_clock":                   "mono",
		"buffer_size_kb":                "4096", // some 50,000 events
		"events/gpio/gpio_value/filter": "get == 0",
		"events/gpio/gpio_value/enable": "1",
	} {
		if err := os.WriteFile(tracing+file, []byte(value), 0); err != nil {
			return err
		}
	}
	return nil
}

var event = regexp.MustCompile(`(\d+)\.(\d{6}): gpio_value: (\d+) set (\d)$`)

// readTrace returns the levels set on the lines of the chip whose line 0 has
// the number base.
func readTrace(base int) ([]plan.Edge, error) {
	trace, err := os.ReadFile(tracing + "trace")
	if err != nil {
		return nil, err
	}
	var edges []plan.Edge
	for line := range strings.Lines(string(trace)) {
		line = strings.TrimSpace(line)
		if line == "" || strings.HasPrefix(line, "#") {
			continue
		}
		m := event.FindStringSubmatch(line)
		if m == nil {
			return nil, fmt.Errorf("trace: not understood (events lost?): %s", line)
		}
		s, _ := strconv.ParseInt(m[1], 10, 64)
		us, _ := strconv.ParseInt(m[2], 10, 64)
		number, _ := strconv.Atoi(m[3])
		if n := number - base; 0 <= n && n < plan.Lines {
			edges = append(edges, plan.Edge{
				At:   time.Duration(s)*time.Second + time.Duration(us)*time.Microsecond,
				Line: n, High: m[4] == "1",
			})
		}
	}
	return edges, nil
}
