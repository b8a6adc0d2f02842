package sessions

import (
	"fmt"
	"regexp"
	"slices"
	"strings"

	"glidepace/sessions/fields"
)

// Sounds is how a session sounds. It is not prescribed: Hash leaves it out.
type Sounds struct {
	Parts    Parts
	Voice    string // where words come from
	Language string // of the words, a BCP 47 code such as "en"
	Volume   int    // 0–100
	// Cues is the folder with the clinic's own recordings, "" for none. A relative
	// path starts at the folder of the session file.
	Cues string
}

// voices are the sources of words: the clinic's recordings with espeak-ng for the
// rest, or one of the two alone.
var voices = []string{"auto", "recordings", "espeak-ng"}

// Parts are the parts of a session's sound, true where they are heard.
type Parts struct{ Tones, Ticks, Voice bool }

// PartNames name the parts, in the order of their fields.
var PartNames = []string{"tones", "ticks", "voice"}

// DefaultSounds is the sound where a file gives none. 60 is a moderate volume.
var DefaultSounds = Sounds{Parts: Parts{true, true, true}, Voice: "auto", Language: "en", Volume: 60}

// ParseParts reads one or more of PartNames, each once.
func ParseParts(words []string) (Parts, error) {
	var p Parts
	allowed := "one or more of " + strings.Join(PartNames, ", ")
	if len(words) == 0 {
		return p, fmt.Errorf("no part is named; allowed: %s", allowed)
	}
	for i, w := range words {
		switch {
		case !slices.Contains(PartNames, w):
			return p, fmt.Errorf("%s is not known%s; allowed: %s", fields.Quote(w), fields.DidYouMean(w, PartNames), allowed)
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

func sounds(top *fields.Mapping) Sounds {
	s := DefaultSounds
	m := top.Mapping("sounds", "{parts: [tones, ticks], volume: 50}")
	if m == nil {
		return s
	}
	defer m.Close()
	parts(m, &s.Parts)
	if v := m.Word("voice", voices...); v != "" {
		s.Voice = v
	}
	const code = "a language code such as en"
	if v, ok := m.Scalar("language", code); ok {
		if languageForm.MatchString(v) {
			s.Language = v
		} else {
			m.Refuse("language", fields.Quote(v)+" is not a language code", code)
		}
	}
	m.Whole("volume", 0, 100, &s.Volume)
	m.Text("cues", 1, 300, &s.Cues)
	return s
}

func parts(m *fields.Mapping, to *Parts) {
	words, ok := m.Words("parts", "[tones, ticks, voice]", strings.Join(PartNames, ", "))
	if !ok {
		return
	}
	p, err := ParseParts(words)
	if err != nil {
		m.Wrong("parts", err.Error())
		return
	}
	*to = p
}
