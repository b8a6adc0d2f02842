package clips

import (
	"context"
	"fmt"
	"math"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"glidepace/pacer"
	"glidepace/sessions"
	"glidepace/sessions/glides"
	"glidepace/sounds/loudness"
	"glidepace/sounds/voice"
)

func options(t testing.TB) Options {
	return Options{Language: &voice.Language{Espeak: "en"}, Source: Auto, Cache: filepath.Join(t.TempDir(), "cache")}
}

// recorded returns options with a folder of recordings.
func recorded(t testing.TB, files map[string][]byte) Options {
	o := options(t)
	o.Recordings = t.TempDir()
	for name, file := range files {
		write(t, filepath.Join(o.Recordings, name), file)
	}
	return o
}

func load(t *testing.T, o Options) (*voice.Voice, []string) {
	t.Helper()
	v, notes, err := Load(t.Context(), someCues, o)
	if err != nil {
		t.Fatal(err)
	}
	return v, notes
}

func has(v *voice.Voice) (names []string) {
	for _, c := range someCues {
		if v.Clip(c.Name) != nil {
			names = append(names, c.Name)
		}
	}
	return names
}

func TestLoadRecordings(t *testing.T) {
	noEspeak(t)
	for _, source := range []string{Auto, Recordings} {
		o := recorded(t, map[string][]byte{
			"breathe-in.wav": wav(sine(440, 22050, 0.5), 22050), "breathe-out.mp3": testFile(t, "440.mp3"), "count-3.Ogg": testFile(t, "440.ogg"),
		})
		o.Source = source
		v, notes := load(t, o)
		if len(notes) > 0 {
			t.Errorf("%q", notes)
		}
		for _, c := range someCues {
			clip := v.Clip(c.Name)
			if l := loudness.Integrated(floats(clip)); l < voice.Loudness-0.3 || l > voice.Loudness+0.3 {
				t.Errorf("%s: %.2f LUFS", c.Name, l)
			}
			checkA4(t, floats(clip), 0.49)
		}
		if v.Clip("unheard-of") != nil {
			t.Error("a clip of an unknown cue")
		}
	}
}

// Recordings and espeak-ng decide what is said, and the notes say what is not.
func TestLoadNotes(t *testing.T) {
	one := map[string][]byte{"count-3.wav": wav(sine(440, 22050, 0.5), 22050)}
	all := []string{"breathe-in", "breathe-out", "count-3"}
	for _, c := range []struct {
		espeak string // what the fake espeak-ng does; "-" for none
		source string
		files  map[string][]byte // nil for no folder
		has    []string
		spoken int
		note   string // FOLDER is that of the recordings
	}{
		{"", Auto, nil, all, 3, ""},
		{"", Auto, one, all, 2, "2 of 3 cues have no recording and are spoken by espeak-ng: breathe-in, breathe-out"},
		{"", Recordings, one, all[2:], 0, "2 of 3 cues have no recording and are not said: breathe-in, breathe-out"},
		{"", Espeak, one, all, 3, "the recordings in FOLDER are not used: the voice is to come from espeak-ng"},
		{"-", Auto, one, all[2:], 0, "2 of 3 cues have no recording and are not said, as espeak-ng is not installed: breathe-in, breathe-out"},
		{"-", Auto, nil, nil, 0, "no voice: espeak-ng is not installed and no recordings are given; tones only"},
		{"-", Auto, map[string][]byte{}, nil, 0, "no voice: espeak-ng is not installed and FOLDER has no recording of a cue; tones only"},
		// A cue that espeak-ng cannot say does not take the rest away.
		{"silence", Auto, nil, nil, 3, "espeak-ng has no words, or too many, for breathe-in, breathe-out, count-3; left unsaid"},
	} {
		asked := installEspeak(t, c.espeak)
		if c.espeak == "-" {
			noEspeak(t)
		}
		o := options(t)
		if c.files != nil {
			o = recorded(t, c.files)
		}
		o.Source = c.source
		v, notes := load(t, o)
		want := strings.ReplaceAll(c.note, "FOLDER", o.Recordings)
		if got := strings.Join(notes, "\n"); got != want {
			t.Errorf("told %q, want %q", got, want)
		}
		if !slices.Equal(has(v), c.has) || v.Silent() != (c.has == nil) || len(asked()) != c.spoken {
			t.Errorf("%q: %v can be said, and espeak-ng was asked %q", want, has(v), asked())
		}
		if in, three := v.Clip("breathe-in"), v.Clip("count-3"); c.spoken == 3 && c.has != nil && len(in) <= len(three) {
			t.Error("all words are alike")
		}
	}
}

// Every recording that cannot be used is told, and the others are there.
func TestLoadBadRecordings(t *testing.T) {
	installEspeak(t, "")
	good := wav(sine(440, 8000, 0.5), 8000)
	o := recorded(t, map[string][]byte{"breathe-in.wav": good, "breathe-out.wav": nil, "count-3.mp3": []byte("three")})
	v, _, err := Load(t.Context(), someCues, o)
	if err == nil || strings.Count(err.Error(), "recording ") != 2 || !strings.Contains(err.Error(), "breathe-out.wav: ") || !strings.Contains(err.Error(), "count-3.mp3: ") {
		t.Errorf("%v", err)
	}
	if v == nil || !slices.Equal(has(v), []string{"breathe-in"}) {
		t.Errorf("%v", v)
	}
}

func TestLoadFails(t *testing.T) {
	good := wav(sine(440, 8000, 0.5), 8000)
	for name, c := range map[string]struct {
		espeak string // what the fake espeak-ng does; "-" for none
		source string
		files  map[string][]byte // nil for no folder
		want   []string
	}{
		"espeak-ng missing":       {"-", Espeak, nil, []string{"espeak-ng is not installed: install it"}},
		"recordings not given":    {"", Recordings, nil, []string{"no recordings are given: give a folder"}},
		"recordings missing":      {"", Recordings, map[string][]byte{"song.mp3": good}, []string{"has no recording of a cue: give"}},
		"espeak-ng broken":        {"fail", Auto, nil, []string{"espeak-ng could not say \"", "voice does not exist", "try it by hand"}},
		"espeak-ng silent":        {"write nothing", Auto, nil, []string{"espeak-ng could not say \"", "it wrote nothing"}},
		"espeak-ng writing text":  {"write text", Auto, nil, []string{"espeak-ng could not say \"", "it wrote something else than sound"}},
		"espeak-ng without end":   {"write on", Auto, nil, []string{"espeak-ng could not say \"", "it writes more than the 4096 kB"}},
		"a damaged recording":     {"", Auto, map[string][]byte{"count-3.wav": good[:1000]}, []string{"recording ", "count-3.wav: is cut off", "copy or save it again"}},
		"a silent recording":      {"", Auto, map[string][]byte{"count-3.wav": wav(make([]float64, 8000), 8000)}, []string{"count-3.wav: is silent"}},
		"a recording of nothing":  {"", Auto, map[string][]byte{"count-3.wav": nil}, []string{"count-3.wav: has no sound"}},
		"a recording of text":     {"", Auto, map[string][]byte{"count-3.mp3": []byte("three")}, []string{"count-3.mp3: is not a WAV, FLAC"}},
		"two recordings of a cue": {"", Auto, map[string][]byte{"count-3.mp3": good, "count-3.wav": good}, []string{"count-3.mp3 and count-3.wav", "keep one"}},
	} {
		t.Run(name, func(t *testing.T) {
			if installEspeak(t, c.espeak); c.espeak == "-" {
				noEspeak(t)
			}
			o := options(t)
			if c.files != nil {
				o = recorded(t, c.files)
			}
			o.Source = c.source
			v, _, err := Load(t.Context(), someCues, o)
			if err == nil || v != nil && v.Clip("count-3") != nil {
				t.Fatalf("%v, %v", v, err)
			}
			for _, want := range c.want {
				if !strings.Contains(err.Error(), want) {
					t.Errorf("%v, want something with %q", err, want)
				}
			}
		})
	}
}

func TestLoadAgain(t *testing.T) {
	asked := installEspeak(t, "")
	o := recorded(t, map[string][]byte{"count-3.wav": wav(sine(440, 22050, 0.5), 22050)})
	first, _ := load(t, o)
	again, _ := load(t, o)
	if len(asked()) != 2 {
		t.Errorf("spoken again: %q", asked())
	}
	for _, c := range someCues {
		if !slices.Equal(first.Clip(c.Name), again.Clip(c.Name)) {
			t.Errorf("%s is another", c.Name)
		}
	}

	// Another text, another voice, another recording.
	o.Language = &voice.Language{Espeak: "en-us"}
	write(t, filepath.Join(o.Recordings, "count-3.wav"), wav(sine(600, 22050, 0.3), 22050))
	other, _ := load(t, o)
	if len(asked()) != 4 || len(other.Clip("count-3")) == len(first.Clip("count-3")) {
		t.Errorf("the old ones are used: %q", asked())
	}
}

// How long the words are is known without speaking them: from a recording, from the
// cache, or as an estimate.
func TestLoadTimesOnly(t *testing.T) {
	asked := installEspeak(t, "")
	language, err := voice.FindLanguage("en")
	if err != nil {
		t.Fatal(err)
	}
	glide, _ := glides.Find("median-wrist")
	s := &sessions.Session{
		Breath:    sessions.Breath{Rate: 8, Ratio: sessions.Ratio{Inhale: 1, Exhale: 1}},
		Exercises: []sessions.Exercise{{Glide: glide, Sets: 1, Reps: 3, SetUp: 9 * time.Second, Side: sessions.Left}},
	}
	line, err := pacer.New(s)
	if err != nil {
		t.Fatal(err)
	}
	o := recorded(t, map[string][]byte{"breathe-in.wav": wav(sine(440, 22050, 0.5), 22050)})
	o.Language, o.TimesOnly = language, true
	placed := func() (list, notes []string) {
		t.Helper()
		v, notes, err := Load(t.Context(), language.Cues(s), o)
		if err != nil {
			t.Fatal(err)
		}
		for _, said := range v.Schedule(line, 0).Said {
			list = append(list, fmt.Sprintf("%s at %d", said.Cue.Name, said.At))
		}
		return list, notes
	}
	all := len(language.Cues(s))
	about, notes := placed()
	want := fmt.Sprintf("%d of %d cues have not been spoken yet: how long they take is estimated", all-1, all)
	if len(about) < 10 || len(notes) != 2 || notes[1] != want || asked() != nil {
		t.Errorf("%d cues placed, told %q; espeak-ng was asked %q", len(about), notes, asked())
	}
	o.TimesOnly = false
	loaded, _ := placed()
	o.TimesOnly = true
	if timed, notes := placed(); !slices.Equal(timed, loaded) || len(notes) != 1 || len(asked()) != all-1 {
		t.Errorf("placed %v, told %q; with their sound %v", timed, notes, loaded)
	}
}

func TestEstimate(t *testing.T) {
	for text, want := range map[string]float64{
		"":                   0,
		" – … !":             0,
		"In.":                0.155 + 2*0.068,
		"Öl, 10 cm. To rest": 0.155 + 18*0.068 + 2*0.37,
	} {
		if got := estimate(text); math.Abs(got-want) > 1e-9 {
			t.Errorf("%q: %v s, want %v", text, got, want)
		}
	}
}

// A cache that cannot be written costs only time.
func TestLoadWithoutCache(t *testing.T) {
	installEspeak(t, "")
	o := options(t)
	write(t, o.Cache, nil) // a file where the folder would be
	if v, notes := load(t, o); len(has(v)) != 3 || len(notes) > 0 {
		t.Errorf("%v, %q", has(v), notes)
	}
}

func TestLoadInTheUsualCache(t *testing.T) {
	installEspeak(t, "")
	home := t.TempDir()
	t.Setenv("XDG_CACHE_HOME", home)
	o := options(t)
	o.Cache = ""
	load(t, o)
	if files, err := os.ReadDir(filepath.Join(home, "glidepace", "voice")); err != nil || len(files) != 3 {
		t.Errorf("%v, %v", files, err)
	}
}

func TestLoadIsStopped(t *testing.T) {
	installEspeak(t, "")
	ctx, cancel := context.WithCancel(t.Context())
	cancel()
	if _, _, err := Load(ctx, someCues, recorded(t, map[string][]byte{"count-3.mp3": testFile(t, "440.mp3")})); err != context.Canceled {
		t.Errorf("%v, want %v", err, context.Canceled)
	}
}
