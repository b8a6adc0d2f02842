package voice

import (
	"fmt"
	"math"
	"slices"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"glidepace/sessions/glides"
)

func TestLanguages(t *testing.T) {
	for _, code := range Languages() {
		w, err := FindLanguage(code)
		if err != nil {
			t.Fatal(err)
		}
		if w.Code != code || w.Espeak == "" {
			t.Errorf("%s: language %q, voice %q", code, w.Code, w.Espeak)
		}
		for _, name := range wordNames {
			if w.Words[name] == "" {
				t.Errorf("%s has no word for %s", code, name)
			}
		}
		if len(w.Words) != len(wordNames) {
			t.Errorf("%s has %d words, %d are used", code, len(w.Words), len(wordNames))
		}
		if len(w.Counts) != mostReps || slices.Contains(w.Counts, "") {
			t.Errorf("%s has %d numbers, a set may have %d repetitions", code, len(w.Counts), mostReps)
		}
		for _, name := range glides.Names() {
			g, own := w.Glides[name]
			if code == "en" {
				g, own = glides.Find(name)
			}
			if !own || g.Start == "" || g.Out == "" || g.Back == "" || slices.Contains([]string{g.Cues.Start, g.Cues.Out, g.Cues.Back, g.Posture.Pelvis,
				g.Posture.LowBack, g.Posture.Chest, g.Posture.ShoulderBlades, g.Posture.Chin, g.Posture.Spine}, "") {
				t.Errorf("%s: the texts of %s are not all there", code, name)
			}
			if short := w.Shorter[name]; short.Out == "" || short.Back == "" {
				t.Errorf("%s: there is no shorter way to say the movements of %s", code, name)
			}
		}
		for _, name := range w.LibraryCues() {
			if name != notInName.ReplaceAllString(name, "-") {
				t.Errorf("%s: %q is no name for a file", code, name)
			}
		}
	}
	if _, err := FindLanguage("xx"); err == nil || !strings.Contains(err.Error(), `no words in "xx"; known are: `) {
		t.Errorf("unknown language: %v", err)
	}
}

// What has no letter and no digit is nothing to say.
func TestSentences(t *testing.T) {
	for text, want := range map[string][]string{
		"":                          nil,
		"One. Two!  Three? Four":    {"One.", "Two!", "Three?", "Four"},
		"Sit. ... Then relax. — ":   {"Sit.", "Then relax."},
		"Höher, 2.5 cm. Ärmel hoch": {"Höher, 2.5 cm.", "Ärmel hoch"},
	} {
		if got := splitSentences(text); !slices.Equal(got, want) {
			t.Errorf("%q: %q, want %q", text, got, want)
		}
	}
}

func TestOwnGlidesOfOneName(t *testing.T) {
	const own = "{own: {name: '%s', start: 'S%s', out: O, back: B}, side: left, reps: 2}"
	line := laid(t, "glidepace: 1\ntitle: T\nbreath: {rate: 6}\nexercises: ["+
		fmt.Sprintf(own+","+own+","+own+","+own, "Ärm & slide", "", "Ärm & slide", "", "rm slide", " else", "rm slide 2", "")+"]\n")
	var names []string
	for _, c := range english(t).Cues(line.Session()) {
		if strings.Contains(c.Name, "-start-1") {
			names = append(names, c.Name)
		}
	}
	if want := []string{"own-rm-slide-start-1", "own-rm-slide-2-start-1", "own-rm-slide-2-2-start-1"}; !slices.Equal(names, want) {
		t.Errorf("got %v, want %v", names, want)
	}
}

func TestLoudnessIsThatOfTheTones(t *testing.T) {
	// The tones are at −20 LUFS at volume 60, of which the gain is 0.6^(5/3).
	if want := -20 - 20*math.Log10(math.Pow(0.6, 5.0/3)); math.Abs(Loudness-want) > 0.0001 {
		t.Errorf("%v, want %v", Loudness, want)
	}
}

// Whatever a session may say is among the cues that are loaded for it, once.
func TestEveryPhraseHasItsCues(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		line, w := anyLine(t), english(t)
		cues := w.Cues(line.Session())
		for _, p := range w.phrases(line, tail) {
			for _, w := range p.ways {
				for _, c := range w.cues {
					if !slices.Contains(cues, c) {
						t.Fatalf("%v is said and not among the cues", c)
					}
				}
			}
		}
		names := map[string]bool{}
		for _, c := range cues {
			if names[c.Name] {
				t.Fatalf("two cues %q", c.Name)
			}
			names[c.Name] = true
		}
	})
}
