package box

import (
	"bytes"
	"encoding/xml"
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"glidepace/devices/buzzer"
	"glidepace/devices/light"
	"glidepace/sessions/cautions"
)

func TestWiring(t *testing.T) {
	withClock := Default
	withClock.BatteryClock = true
	elsewhere := Default
	elsewhere.Buzzer, elsewhere.Button, elsewhere.Light = "GPIO26", "GPIO4", "GPIO21"
	for _, c := range []struct {
		name string
		box  File
		want string
	}{
		{"default", Default, "buzzer GPIO17 11, buzzer 3.3 V 17, buzzer ground 9, button GPIO27 13, button ground 14, light GPIO22 15, light ground 20"},
		{"battery clock", withClock, "buzzer GPIO17 11, buzzer 3.3 V 17, buzzer ground 9, button GPIO27 13, button ground 14, light GPIO22 15, light ground 20, " +
			"clock 3.3 V 1, clock GPIO2 3, clock GPIO3 5, clock ground 6"},
		{"other pins", elsewhere, "buzzer GPIO26 37, buzzer 3.3 V 17, buzzer ground 39, button GPIO4 7, button ground 6, light GPIO21 40, light ground 34"},
	} {
		var got []string
		for _, w := range c.box.Wiring() {
			got = append(got, fmt.Sprintf("%s %s %d", w.Part, w.Line, w.Header))
		}
		if s := strings.Join(got, ", "); s != c.want {
			t.Errorf("%s:\ngot  %s\nwant %s", c.name, s, c.want)
		}
	}
}

// Whatever pins a box has, no pin of the header has two wires, and each wire
// goes to a pin of its kind.
func TestEveryPinHasOneWire(t *testing.T) {
	var outputs, inputs []string
	for n := range headerPins {
		if refusePin(gpio(n), true) == "" {
			outputs = append(outputs, gpio(n))
		}
		if refusePin(gpio(n), false) == "" {
			inputs = append(inputs, gpio(n))
		}
	}
	for _, buzz := range outputs {
		for _, lamp := range outputs {
			for _, push := range inputs {
				if buzz == lamp || buzz == push || lamp == push {
					continue
				}
				f := File{Buzzer: buzz, Light: lamp, Button: push, BatteryClock: true}
				seen := map[int]bool{}
				for _, w := range f.Wiring() {
					kind := w.Header == headerPin(w.Line)
					switch w.Line {
					case "3.3 V":
						kind = w.Header == 1 || w.Header == 17
					case "ground":
						kind = slices.Contains(grounds[:], w.Header)
					}
					if seen[w.Header] || !kind {
						t.Fatalf("%v: %s of the %s at header pin %d", f, w.Line, w.Part, w.Header)
					}
					seen[w.Header] = true
				}
			}
		}
	}
}

func TestDiagram(t *testing.T) {
	f := Default
	f.Name = `Box <3> & "4"`
	f.BatteryClock = true
	svg := f.Diagram()
	if !bytes.Equal(svg, f.Diagram()) {
		t.Error("the same box gives two diagrams")
	}
	type texts struct {
		Texts  []string `xml:"text"`
		Groups []texts  `xml:"g"`
	}
	var all texts
	if err := xml.Unmarshal(svg, &all); err != nil || len(all.Groups) != 1 {
		t.Fatalf("%d groups, %v", len(all.Groups), err)
	}
	found := append(all.Texts, all.Groups[0].Texts...)
	for _, w := range f.Wiring() {
		end := fmt.Sprintf("%s · pin %d", w.Line, w.Header)
		label, other := w.Part+" · "+w.Line, w.Line+" · "+w.Part
		if !slices.Contains(found, end) || !slices.Contains(found, label) && !slices.Contains(found, other) {
			t.Errorf("the diagram does not have %q both at the header and at the part: %q", end, found)
		}
	}
	for _, want := range []string{`Wiring of the buzzer box: Box <3> & "4"`, gateResistor, pullDown, buttonResistor, lightResistor} {
		if !slices.Contains(found, want) {
			t.Errorf("the diagram does not have the text %q", want)
		}
	}
}

// The documentation beside the package is that of the default pins.
func TestDocumentation(t *testing.T) {
	name := filepath.Join("..", "wiring.svg")
	svg := Default.Diagram()
	if old, err := os.ReadFile(name); err != nil || !bytes.Equal(old, svg) {
		t.Errorf("%s is not the diagram of the default pins (%v): keep what Default.Diagram returns", name, err)
	}
	readme, err := os.ReadFile(filepath.Join("..", "README.md"))
	if err != nil {
		t.Fatal(err)
	}
	text := strings.Join(strings.Fields(string(readme)), " ")
	has := func(want string) {
		t.Helper()
		if !strings.Contains(text, want) {
			t.Errorf("devices/README.md does not have %q", want)
		}
	}
	f := Default
	f.BatteryClock = true
	for _, w := range f.Wiring() {
		has(fmt.Sprintf("| %s | %s | %d | %s |", w.Part, w.Line, w.Header, w.To))
	}
	for _, c := range append(slices.Clone(cautions.Lending), Parts...) {
		has("- " + c)
	}
	for _, p := range buzzer.Patterns() {
		has(fmt.Sprintf("| %s | %s |", p.Name, p.Feel))
	}
	for _, s := range []light.State{light.Ready, light.Running, light.Stopped, light.Asking, light.Trouble} {
		has(fmt.Sprintf("| %s | %s |", s, s.Looks()))
	}
}

// What the caution says is what the software does.
func TestCautionNamesTheLimit(t *testing.T) {
	want := fmt.Sprintf("the software's limit, %.0f s,", buzzer.Longest.Seconds())
	if !slices.ContainsFunc(cautions.Lending, func(c string) bool { return strings.Contains(c, want) }) {
		t.Errorf("no caution has %q", want)
	}
}
