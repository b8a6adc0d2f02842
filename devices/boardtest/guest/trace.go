//go:build real && linux

package main

import (
	"os"

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

// readTrace returns the levels set on the lines of the chip whose line 0 has
// the number base.
func readTrace(base int) ([]plan.Edge, error) {
	trace, err := os.ReadFile(tracing + "trace")
	if err != nil {
		return nil, err
	}
	return plan.ReadTrace(string(trace), base)
}
