//go:build real && linux

package boxrun

import (
	"slices"
	"strings"
	"testing"

	"glidepace/devices/box"
)

// A real kernel has the parameters that the service's kernel words set, and the
// self-test reads them. In the driver of the newest boards' pins they are on
// unless they are set.
func TestBoardKeepsPins(t *testing.T) {
	s, err := box.Default.Service(box.DefaultPlace, box.Commands{Run: box.Program, Off: box.Program})
	if err != nil {
		t.Fatal(err)
	}
	off := strings.TrimSpace(s.Cmdline)
	const rp1, bcm2835 = "pinctrl_rp1", "pinctrl_bcm2835"
	for _, c := range []struct {
		name, words string
		modules     []string
		on          string // the driver that the test names
	}{
		{"by itself, older boards", "", nil, ""},
		// The machine's module loader ignores kernel words for modules.
		{"by itself, the newest boards", "", []string{"pinctrl-rp1"}, rp1},
		{"turned on", strings.ReplaceAll(off, "=n", "=y"), nil, bcm2835},
		{"turned on, then off", strings.ReplaceAll(off, "=n", "=y") + " " + off, nil, ""},
	} {
		t.Run(c.name, func(t *testing.T) {
			t.Parallel()
			m := onTheBox(boxSession)
			m.Kernel += " " + c.words
			m.Modules = c.modules
			m.Args = []string{"box", "wiring", "/box/box.yaml", "--unattended", "--format", "json"}
			r := m.Run(t)
			said := printed(r)
			failed := strings.Contains(said, "so the motor may stay on")
			for _, driver := range []string{rp1, bcm2835} {
				if named := strings.Contains(said, "/sys/module/"+driver+"/parameters/persist_gpio_outputs is Y"); named != (driver == c.on) {
					t.Errorf("%s is on: %v", driver, named)
				}
			}
			if failed != (c.on != "") || failed != (r.Exit == 1) || !strings.Contains(said, "pins of a killed program") {
				t.Errorf("exit %d", r.Exit)
			}
			if t.Failed() {
				t.Log(said)
			}
		})
	}
}

// The pins are taken, driven low and let go.
func TestBoardOff(t *testing.T) {
	t.Parallel()
	m := onTheBox(boxSession)
	m.Args = []string{"box", "off", "/box/box.yaml"}
	r := m.Run(t)
	if r.Exit != 0 {
		t.Errorf("exit %d; printed\n%s", r.Exit, printed(r))
	}
	for _, line := range []int{buzzerLine, lightLine} {
		taken := false
		for _, q := range r.Requests {
			taken = taken || q.Line == line && q.Held
		}
		if !taken || r.Released(line) == 0 || slices.Contains(r.High, line) || len(r.Changes(line)) > 0 {
			t.Errorf("line %d: taken: %v, released at %v, edges %v, high at the end: %v", line, taken, r.Released(line), r.Edges, r.High)
		}
	}
	t.Logf("took %v", r.Ended-r.Started)
}
