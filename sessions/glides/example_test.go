package glides_test

import (
	"fmt"

	"glidepace/sessions/glides"
)

func ExampleFind() {
	g, ok := glides.Find("median-wrist")
	fmt.Println(ok, g.Title)
	fmt.Printf("%s → %s: %s\n", g.Cues.Start, g.Cues.End, g.Cues.Out)
	fmt.Printf("%s → %s: %s\n", g.Cues.End, g.Cues.Start, g.Cues.Back)
	// Output:
	// true Wrist glide for the median nerve
	// Palm forward → Wrist bent back: Bend the wrist back
	// Wrist bent back → Palm forward: Let the hand relax
}

func ExampleNames() {
	for _, name := range glides.Names() {
		fmt.Println(name)
	}
	// Output:
	// median-wrist
	// median-elbow
	// median-neck
	// median-slider
	// median-fingers
	// ulnar-elbow
	// ulnar-slider
	// radial-wrist
	// radial-slider
}
