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
		"Hold it for five seconds.":           `"hold"`,
		"hold, held, HOLDING, hold":           `"hold", "held", "holding"`,
		"Breathe deeply while you go.":        `"deeply"`,
		"Stretch it until it is stretched.":   `"stretch", "stretched"`,
		"a push, pushing":                     `"push", "pushing"`,
		"Pull, as you pulled.":                `"pull", "pulled"`,
		"no force, nothing forced, forcing":   `"force", "forced", "forcing"`,
		"The household table.":                "",
		"the forearm in a pullover, foremost": "",
	} {
		s, err := sessions.Parse("x", strings.NewReader("glidepace: 1\ntitle: T\nbreath: {rate: 8}\nexercises: [{own: {name: N, start: S, out: O, back: '"+text+"'}, side: left, reps: 3}]\n"))
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
		if want == "" && got != "" || want != "" && !strings.HasPrefix(got, "the text says "+want+": ") {
			t.Errorf("%q: cautions %q, want one of the words %s", text, got, want)
		}
	}
}
