package sessions

import (
	"fmt"
	"regexp"
	"slices"
	"strings"

	"gopkg.in/yaml.v3"
)

// Sounds is how a session is to sound. It is no part of what is prescribed:
// Hash leaves it out.
type Sounds struct {
	Parts    Parts
	Voice    string // where words come from: one of Voices
	Language string // of the words, a BCP 47 code such as "en"
	Volume   int    // 0–100
	// Cues is the folder with the clinic's own recordings, "" for none. A
	// relative one is meant from the folder of the session file.
	Cues string
}

// Voices are the sources of words that a session file may name: the clinic's
// recordings first and espeak-ng for the rest, or one of the two alone.
var Voices = []string{"auto", "recordings", "espeak-ng"}

// Parts are the parts of a session's sound that are heard.
type Parts struct{ Tones, Ticks, Voice bool }

// PartNames are the words for the parts, in the order of their fields.
var PartNames = []string{"tones", "ticks", "voice"}

// DefaultSounds is the sound of a file that says nothing of it. 60 is a
// moderate volume.
var DefaultSounds = Sounds{Parts: Parts{true, true, true}, Voice: "auto", Language: "en", Volume: 60}

// ParseParts reads the words of PartNames: one of them at least, each once.
func ParseParts(words []string) (Parts, error) {
	var p Parts
	allowed := "one or more of " + strings.Join(PartNames, ", ")
	if len(words) == 0 {
		return p, fmt.Errorf("no part is named; allowed: %s", allowed)
	}
	for i, w := range words {
		switch {
		case !slices.Contains(PartNames, w):
			return p, fmt.Errorf("%s is not known%s; allowed: %s", quote(w), didYouMean(w, PartNames), allowed)
		case slices.Contains(words[:i], w):
			return p, fmt.Errorf("%s stands twice; allowed: %s", w, allowed)
		}
		p.Tones = p.Tones || w == "tones"
		p.Ticks = p.Ticks || w == "ticks"
		p.Voice = p.Voice || w == "voice"
	}
	return p, nil
}

var languageForm = regexp.MustCompile(`^[a-z]{2,3}(-[A-Za-z0-9]{2,8})*$`)

func (top *mapping) sounds() Sounds {
	s := DefaultSounds
	m := top.mapping("sounds", "{parts: [tones, ticks], volume: 50}")
	if m == nil {
		return s
	}
	defer m.close()
	m.parts(&s.Parts)
	if v := m.word("voice", Voices...); v != "" {
		s.Voice = v
	}
	const code = "a language code such as en"
	if v, ok := m.scalar("language", code); ok {
		if languageForm.MatchString(v) {
			s.Language = v
		} else {
			m.refuse("language", quote(v)+" is not a language code", code)
		}
	}
	m.whole("volume", 0, 100, &s.Volume)
	m.text("cues", 1, 300, &s.Cues)
	return s
}

func (m *mapping) parts(to *Parts) {
	v := m.get("parts", yaml.SequenceNode, "a list such as [tones, ticks, voice]")
	if v == nil {
		return
	}
	var words []string
	for _, n := range v.Content {
		switch {
		case m.r.unreadable[n]:
			return
		case n.Kind != yaml.ScalarNode:
			m.r.report(placeOf(n), m.child("parts"), "parts: %s is not a word; allowed: %s", describe(n), strings.Join(PartNames, ", "))
			return
		}
		words = append(words, n.Value)
	}
	p, err := ParseParts(words)
	if err != nil {
		m.r.report(m.placeOf("parts"), m.child("parts"), "parts: %v", err)
		return
	}
	*to = p
}
