//go:build real && linux

package boardtest

import (
	"math/rand/v2"
	"os"
	"regexp"
	"slices"
	"testing"
	"time"
)

const (
	motor  = 17
	button = "GPIO27"
	year   = 365 * 24 * time.Hour
)

// press presses the button once the program waits for it.
var press = Step{On: "^ready$", After: 50 * time.Millisecond, Low: button}

func TestPulses(t *testing.T) {
	t.Parallel()
	m := Probe("pulses")
	m.Clock = time.Date(2030, 6, 1, 12, 0, 0, 0, time.UTC)
	m.Steps = []Step{press, {On: "^pressed in 2030$", After: 110 * time.Millisecond, Shift: year}}
	r := m.Run(t)

	// Init met the chip's second name.
	if want := []string{"descriptor 0 was closed", "ready", "pressed in 2030", "year 2031"}; !slices.Equal(r.Texts(), want) {
		t.Errorf("printed %q, want %q", r.Texts(), want)
	}
	edges := r.Changes(motor)
	if len(edges) != 20 {
		t.Fatalf("%d changes, want ten pulses: %v", len(edges), edges)
	}
	late := edges[0].At - r.Marks[0].At
	if late <= 0 || late > 2*time.Millisecond {
		t.Errorf("first edge %v after the press", late)
	}
	worst := time.Duration(0)
	for i, e := range edges {
		due := edges[0].At + time.Duration(i)*20*time.Millisecond
		worst = max(worst, (e.At - due).Abs())
	}
	if worst > 2*time.Millisecond {
		t.Errorf("an edge %v from its due time", worst)
	}
	if r.Exit != 0 || r.CPU == 0 || r.MaxRSS == 0 {
		t.Errorf("exit %d, processor time %v, memory %d", r.Exit, r.CPU, r.MaxRSS)
	}
	t.Logf("%v in all; first edge %v after the press, others within %v; processor %v, memory %d kB",
		r.Took.Round(time.Millisecond), late, worst, r.CPU, r.MaxRSS>>10)
}

// What was flushed before the power was cut is there after it; what was only
// written is not all there.
func TestCut(t *testing.T) {
	for _, disk := range []string{"vfat", "ext4"} {
		for _, how := range []string{"sync", "leave"} {
			t.Run(disk+" "+how, func(t *testing.T) {
				t.Parallel()
				m := Probe("write", how)
				m.Disk = Format(t, disk, 64, map[string][]byte{"numbers": []byte("first\n")})
				m.DiskType = disk
				running := m.Start(t)
				running.Await("^recorded 5$")
				time.Sleep(rand.N(time.Second))
				seen := running.Cut().Texts()

				m.Args = []string{"read"}
				r := m.Run(t)
				kept := r.Texts()
				if kept[0] != "first" {
					t.Fatalf("the disk's first file begins %q", kept[0])
				}
				// One more may be kept than was seen.
				lost := max(0, len(seen)-(len(kept)-1))
				t.Logf("%d recorded, %d lost; second boot %v", len(seen), lost, r.Took.Round(time.Millisecond))
				if how == "sync" && lost > 0 {
					t.Errorf("%d of %d flushed lines lost", lost, len(seen))
				}
				if how == "leave" && lost <= 0 {
					t.Errorf("no line lost of %d: the cut cuts nothing", len(seen))
				}
			})
		}
	}
}

// A machine that cannot be had is a failure that says what to do.
func TestNoKernel(t *testing.T) {
	t.Setenv(cacheVar, t.TempDir())
	t.Setenv("http_proxy", "http://127.0.0.1:1")
	_, err := fetch()
	if err == nil || !regexp.MustCompile(`(?s)no kernel .*deb\.debian\.org can be reached`).MatchString(err.Error()) {
		t.Errorf("error %v", err)
	}
	left, _ := os.ReadDir(os.Getenv(cacheVar))
	if len(left) > 0 {
		t.Errorf("left behind: %v", left)
	}
}
