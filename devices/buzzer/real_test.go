//go:build real && linux

package buzzer_test

import (
	"testing"
	"time"

	"glidepace/devices/boardtest"
	"glidepace/devices/buzzer"
)

// Every edge of every pattern, as the kernel saw it, within 5 ms of its due
// time.
func TestPatternsOnAKernel(t *testing.T) {
	r := boardtest.Probe("patterns").Run(t)
	edges := r.Changes(17)
	if r.Exit != 0 || len(r.Console) > 0 {
		t.Fatalf("exit %d, printed %v", r.Exit, r.Console)
	}
	var all int
	var worst time.Duration
	for _, p := range buzzer.Patterns() {
		want := boardtest.Played(t, p)
		if len(edges) < len(want) {
			t.Fatalf("%s: %d edges left, want %d", p.Name, len(edges), len(want))
		}
		for i, w := range want {
			if edges[i].High != w.High {
				t.Fatalf("%s, edge %d: %v, want %v", p.Name, i+1, edges[i], w)
			}
			worst = max(worst, (edges[i].At - edges[0].At - w.At).Abs())
		}
		edges = edges[len(want):]
		all += len(want)
	}
	if worst > 5*time.Millisecond || len(edges) > 0 {
		t.Errorf("an edge %v from its due time; edges left: %v", worst, edges)
	}
	t.Logf("%d edges, each within %v; processor %v of %v", all, worst, r.CPU, r.Ended-r.Started)
}
