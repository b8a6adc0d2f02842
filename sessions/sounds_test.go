package sessions_test

import (
	"testing"

	"glidepace/sessions"
)

func TestSounds(t *testing.T) {
	const file = "glidepace: 1\ntitle: Demo\nbreath: {rate: 6}\nexercises: [{glide: median-wrist, side: left, reps: 5}]\n"
	plain := parseText(t, file)
	for text, want := range map[string]sessions.Sounds{
		"{}":                             sessions.DefaultSounds,
		"{parts: [ticks]}":               {Parts: sessions.Parts{Ticks: true}, Voice: "auto", Language: "en", Volume: 60},
		"{parts: [voice, tones]}":        {Parts: sessions.Parts{Tones: true, Voice: true}, Voice: "auto", Language: "en", Volume: 60},
		"{voice: recordings, cues: my/}": {Parts: sessions.Parts{Tones: true, Ticks: true, Voice: true}, Voice: "recordings", Language: "en", Volume: 60, Cues: "my/"},
		"{language: pt-BR, volume: 0}":   {Parts: sessions.Parts{Tones: true, Ticks: true, Voice: true}, Voice: "auto", Language: "pt-BR"},
	} {
		s := parseText(t, file+"sounds: "+text+"\n")
		if s.Sounds != want {
			t.Errorf("%s: got %+v, want %+v", text, s.Sounds, want)
		}
		if s.Hash() != plain.Hash() {
			t.Errorf("%s is hashed as a part of the prescription", text)
		}
	}
}
