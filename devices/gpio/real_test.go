//go:build real && linux

package gpio_test

import (
	"slices"
	"strings"
	"testing"
	"time"

	"glidepace/devices/boardtest"
)

// The chip of the machine has a second name, so the library closes descriptor
// 0 when it looks for chips; probe sees that it is still what it was.
func TestWatchOnAKernel(t *testing.T) {
	t.Parallel()
	const button, ms = "GPIO27", time.Millisecond
	m := boardtest.Probe("watch")
	m.Steps = []boardtest.Step{
		// Pressed and let go twice before anybody watches.
		{On: "^open$", After: 10 * ms, Low: button}, {On: "", High: button}, {On: "", Low: button}, {On: "", High: button},
		{On: "^high true$", After: 300 * ms, Low: button},
		{On: "^high false$", After: 300 * ms, High: button},
	}
	r := m.Run(t)
	if want := []string{"open", "watching", "high true", "high false", "high true", "read true <nil>"}; !slices.Equal(r.Texts(), want) || r.Exit != 0 {
		t.Fatalf("exit %d, printed %v, want %q, marks %v", r.Exit, r.Console, want, r.Marks)
	}
	for i, mark := range r.Marks[len(r.Marks)-2:] {
		told := r.Console[3+i].At - mark.At
		if told < 0 || told > 5*ms {
			t.Errorf("edge %d told %v after it", i+1, told)
		}
		t.Logf("told %v after the edge", told)
	}
}

func TestBusyOnAKernel(t *testing.T) {
	t.Parallel()
	r := boardtest.Probe("busy").Run(t)
	got := r.Texts()
	if len(got) != 8 || r.Exit != 0 {
		t.Fatalf("exit %d, printed %q", r.Exit, got)
	}
	for i, want := range []string{
		"pin GPIO99: no line of that name; pinctrl-bcm2711 has GPIO0 to GPIO53",
		"pin bcm17: no line of that name; pinctrl-bcm2711 has GPIO0 to GPIO53",
		"pin : no line of that name; ",
		"pin GPIO22 on pinctrl-bcm2711 is busy: ", "pin GPIO22 on pinctrl-bcm2711 is busy: ",
		"pin GPIO22 on pinctrl-bcm2711 is busy: ", "pin GPIO22 on pinctrl-bcm2711 is busy: ",
		"free",
	} {
		if !strings.HasPrefix(got[i], want) {
			t.Errorf("line %d: %q, want %q", i+1, got[i], want)
		}
	}
	var levels []bool
	for _, e := range r.Changes(22) {
		levels = append(levels, e.High)
	}
	if want := []bool{true, false, true, false}; !slices.Equal(levels, want) {
		t.Errorf("levels %v, want %v", levels, want)
	}
	t.Log(strings.Join(got, "\n"))
}
