package pacer

import (
	"strings"
	"testing"

	"glidepace/sessions"
)

// A glide in the clinician's own words that asks for a hold is spoken and shown
// as it is: it wants a caution.
func TestCautionOfOwnWords(t *testing.T) {
	for text, want := range map[string]string{
		"Hold it for five seconds.":    `the text says "Hold"`,
		"Breathe deeply while you go.": `the text says "deeply"`,
		"The household table.":         "",
	} {
		s, err := sessions.Parse("x", strings.NewReader("glidepace: 1\ntitle: T\nbreath: {rate: 6}\nexercises: [{own: {name: N, start: S, out: O, back: "+text+"}, side: left, reps: 3}]\n"))
		if err != nil {
			t.Fatal(err)
		}
		line, err := New(s)
		if err != nil {
			t.Fatal(err)
		}
		var got string
		for _, c := range Cautions(line) {
			got += c.Text
		}
		if want == "" && got != "" || !strings.Contains(got, want) {
			t.Errorf("%q: cautions %q, want %q", text, got, want)
		}
	}
}
