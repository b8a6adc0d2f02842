package sounds

import (
	"math"
	"math/rand/v2"
	"testing"

	"glidepace/pacer"
	"glidepace/sessions"
	"glidepace/sounds/voice"
)

// humming returns settings with a voice that says every cue of line as noise
// of the loudness of a word, for some seconds.
func humming(t *testing.T, line *pacer.Timeline, seconds func() float64) Settings {
	w, err := voice.FindLanguage("en")
	if err != nil {
		t.Fatal(err)
	}
	random := rand.New(rand.NewPCG(1, 2))
	clips := map[string]voice.Clip{}
	for _, c := range w.Cues(line.Session()) {
		clip := make(voice.Clip, frame(seconds()))
		for i := range clip {
			clip[i] = int16(voice.Ceiling * math.MaxInt16 * (2*random.Float64() - 1))
		}
		clips[c.Name] = clip
	}
	return Settings{Parts: sessions.DefaultSounds.Parts, Volume: 100, Voice: voice.New(w, clips)}
}

// Words and ticks are heard as they are, tones softer under words and as they are
// elsewhere, and nothing goes over full scale.
func TestTonesDuckUnderWords(t *testing.T) {
	both(t, func(t *testing.T, line *pacer.Timeline) {
		random := rand.New(rand.NewPCG(3, 4))
		settings := humming(t, line, func() float64 { return 0.05 + 2*random.Float64() })
		full := newScore(line, settings)
		tones, ticks, said := *full, *full, *full
		tones.ticks, tones.speech = nil, speech{}
		ticks.tones, ticks.speech = nil, speech{}
		said.tones, said.ticks = nil, nil
		tone, tick, word := tones.whole(), ticks.whole(), said.whole()
		under, away := 0, 0
		for n, x := range full.whole() {
			if math.Abs(x) > 1 {
				t.Fatalf("frame %d is %v", n, x)
			}
			heard := x - word[n] - tick[n] // of the tone
			if word[n] != 0 {
				under++
				if math.Abs(heard-duckedTo*tone[n]) > 1e-9 {
					t.Fatalf("frame %d: the tone is %v, of %v, under a word", n, heard, tone[n])
				}
			}
			if n%997 == 0 && silent(word[max(0, n-duckRise):min(len(word), n+duckFall+1)]) {
				away++
				if math.Abs(heard-tone[n]) > 1e-9 {
					t.Fatalf("frame %d: the tone is %v, of %v, away from words", n, heard, tone[n])
				}
			}
		}
		if under == 0 || away == 0 {
			t.Fatalf("%d frames under words, %d away from them", under, away)
		}
	})
}

// The tones grow softer and come back without a click: with words no step between
// two samples is larger than without them, except by the slope of the ducking.
func TestDuckingDoesNotClick(t *testing.T) {
	line := timeline(t, ordinary())
	full := newScore(line, humming(t, line, func() float64 { return 0.7 }))
	ducked := *full
	ducked.speech.said, ducked.ticks = nil, nil
	plain := ducked
	plain.speech = speech{}
	a, b := plain.whole(), ducked.whole()
	steepest := math.Pi / 2 / duckFall // of a raised cosine
	for n := 1; n < len(a); n++ {
		if step := math.Abs(b[n] - b[n-1]); step > math.Abs(a[n]-a[n-1])+steepest {
			t.Fatalf("frame %d: a step of %v, %v without words", n, step, math.Abs(a[n]-a[n-1]))
		}
	}
}

// Streamed or filled, in whatever pieces: the same samples.
func TestFillIsTheStream(t *testing.T) {
	line := timeline(t, flowing())
	settings := humming(t, line, func() float64 { return 0.5 })
	settings.Volume = defaultVolume
	s := New(line, settings)
	stream := make([][2]float64, s.Len())
	for n := 0; n < len(stream); {
		k, _ := s.Stream(stream[n:min(len(stream), n+777)])
		n += k
	}
	filled := make([]int16, s.Len())
	for n := 0; n < len(filled); n += 5000 {
		s.Fill(filled[n:min(len(filled), n+5000)], n)
	}
	for n, x := range stream {
		if want := int16(math.Round(x[0] * math.MaxInt16)); filled[n] != want || x[0] != x[1] {
			t.Fatalf("frame %d is %v, streamed %v", n, filled[n], x)
		}
	}
}

func TestParts(t *testing.T) {
	line := timeline(t, ordinary())
	settings := humming(t, line, func() float64 { return 0.5 })
	for parts, want := range map[sessions.Parts][3]bool{
		{Tones: true}:              {true, false, false},
		{Ticks: true}:              {false, true, false},
		{Voice: true}:              {false, false, true},
		{Tones: true, Voice: true}: {true, false, true},
	} {
		settings.Parts = parts
		s := newScore(line, settings)
		if got := [3]bool{len(s.tones) > 0, len(s.ticks) > 0, len(s.speech.said) > 0}; got != want {
			t.Errorf("%+v: tones, ticks, words are %v", parts, got)
		}
	}
	settings.Parts, settings.Voice = sessions.DefaultSounds.Parts, nil
	if s := newScore(line, settings); len(s.speech.said) > 0 {
		t.Error("words without a voice")
	}
}
