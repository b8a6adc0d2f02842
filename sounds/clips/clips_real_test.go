//go:build real

package clips

import (
	"flag"
	"fmt"
	"maps"
	"math"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"testing"
	"time"

	"glidepace/sounds/loudness"
	"glidepace/sounds/voice"
)

// englishCues are all words and numbers.
func englishCues(t *testing.T) (*voice.Language, []voice.Cue) {
	t.Helper()
	w, err := voice.FindLanguage("en")
	if err != nil {
		t.Fatal(err)
	}
	var cues []voice.Cue
	for _, name := range slices.Sorted(maps.Keys(w.Words)) {
		cues = append(cues, voice.Cue{Name: name, Text: w.Words[name]})
	}
	for n, text := range w.Counts {
		cues = append(cues, voice.Cue{Name: fmt.Sprintf("count-%d", n+1), Text: text})
	}
	return w, append(cues, voice.Cue{Name: "long", Text: "Sit tall, both feet on the floor, and let the shoulders sink. The elbow stays close to the body."})
}

func TestRealEspeak(t *testing.T) {
	w, cues := englishCues(t)
	o := Options{Language: w, Source: Espeak, Cache: t.TempDir()}
	began := time.Now()
	v, notes, err := Load(t.Context(), cues, o)
	if err != nil || len(notes) > 0 {
		t.Fatal(err, notes)
	}
	t.Logf("%d cues spoken in %v", len(cues), time.Since(began))
	began = time.Now()
	again, _, err := Load(t.Context(), cues, o)
	if err != nil {
		t.Fatal(err)
	}
	if took := time.Since(began); took > 200*time.Millisecond {
		t.Errorf("%v from the cache", took)
	} else {
		t.Logf("%v from the cache", took)
	}
	if three := float64(len(v.Clip("count-3"))) / rate; three < 0.25 || three > 0.9 {
		t.Errorf("“three” takes %.2f s", three)
	}
	softest := math.Inf(1)
	for _, c := range cues {
		clip := v.Clip(c.Name)
		if !slices.Equal(clip, again.Clip(c.Name)) {
			t.Errorf("%q is another from the cache", c.Text)
		}
		// At 150 words a minute, that is 14 letters a second.
		if s := float64(len(clip)) / rate; s < 0.15 || s > 0.5+float64(len(c.Text))/8 {
			t.Errorf("%q takes %.2f s", c.Text, s)
		}
		l := loudness.Integrated(floats(clip))
		if softest = min(softest, l); math.Abs(l-voice.Loudness) > 1 {
			t.Errorf("%q is at %.2f LUFS, want %.2f", c.Text, l, voice.Loudness)
		}
	}
	t.Logf("the softest is at %.2f LUFS, of %.2f", softest, voice.Loudness)
}

var update = flag.Bool("update", false, "write the lengths of what espeak-ng says")

// The lengths that tests of package voice lay sessions out with are those of
// espeak-ng, and estimates are near them.
func TestRealSeconds(t *testing.T) {
	const name = "../voice/testdata/seconds.txt"
	file, err := os.ReadFile(name)
	if err != nil {
		t.Fatal(err)
	}
	kept := map[string]float64{} // by text
	var texts []voice.Cue
	for l := range strings.Lines(string(file)) {
		number, text, _ := strings.Cut(strings.TrimSpace(l), " ")
		if kept[text], err = strconv.ParseFloat(number, 64); err != nil {
			t.Fatal(err)
		}
		texts = append(texts, voice.Cue{Name: text, Text: text})
	}
	v, notes, err := Load(t.Context(), texts, Options{Language: &voice.Language{Espeak: "en"}, Source: Espeak, Cache: t.TempDir()})
	if err != nil || len(notes) > 0 {
		t.Fatal(err, notes)
	}
	slices.SortFunc(texts, func(a, b voice.Cue) int { return strings.Compare(a.Text, b.Text) })
	var list strings.Builder
	var offs []float64
	for _, c := range texts {
		seconds := float64(len(v.Clip(c.Name))) / rate
		fmt.Fprintf(&list, "%.2f %s\n", seconds, c.Text)
		off := math.Abs(estimate(c.Text) - seconds)
		if off > 0.5 {
			t.Errorf("%q takes %.2f s, estimated are %.2f", c.Text, seconds, estimate(c.Text))
		}
		offs = append(offs, off/seconds)
		if k := kept[c.Text]; !*update && math.Abs(k-seconds) > 0.05+0.03*seconds {
			t.Errorf("%q takes %.2f s, kept are %.2f", c.Text, seconds, k)
		}
	}
	slices.Sort(offs)
	if half := offs[len(offs)/2]; half > 0.06 {
		t.Errorf("half of the estimates are more than %.1f %% off", 100*half)
	}
	if *update {
		write(t, name, []byte(list.String()))
	}
}

func TestRealEspeakDoesNotKnowTheVoice(t *testing.T) {
	_, _, err := Load(t.Context(), someCues, Options{Language: &voice.Language{Espeak: "xx-nowhere"}, Source: Auto, Cache: t.TempDir()})
	if err == nil || !strings.Contains(err.Error(), "try it by hand: espeak-ng -v xx-nowhere hello") {
		t.Error(err)
	}
}

func TestRealRecordings(t *testing.T) {
	for _, c := range []struct {
		ext   string
		rates []int
		args  []string
	}{
		{"wav", []int{8000, 22050, 44100, 96000}, nil},
		{"wav", []int{44100}, []string{"-c:a", "pcm_f32le"}},
		{"wav", []int{44100, 96000}, []string{"-c:a", "pcm_s24le", "-ac", "2"}},
		{"flac", []int{8000, 22050, 44100, 96000}, nil},
		{"flac", []int{48000}, []string{"-sample_fmt", "s32", "-ac", "2"}},
		{"mp3", []int{16000, 24000, 44100, 48000}, nil}, // has no higher rate, and 22050 is refused
		{"mp3", []int{24000, 44100}, []string{"-q:a", "3", "-ac", "2"}},
		{"ogg", []int{8000, 22050, 44100, 96000}, []string{"-c:a", "libvorbis"}},
	} {
		for _, from := range c.rates {
			t.Run(fmt.Sprintf("%s %d Hz %v", c.ext, from, c.args), func(t *testing.T) {
				o := options(t)
				o.Source, o.Recordings = Recordings, t.TempDir()
				args := []string{"-v", "error", "-f", "lavfi", "-i", fmt.Sprintf("sine=frequency=440:duration=1:sample_rate=%d", from)}
				args = append(append(args, c.args...), filepath.Join(o.Recordings, "count-3."+c.ext))
				if out, err := exec.Command("ffmpeg", args...).CombinedOutput(); err != nil {
					t.Fatalf("ffmpeg: %v: %s", err, out)
				}
				v, _ := load(t, o)
				checkA4(t, floats(v.Clip("count-3")), 0.99)
			})
		}
	}
}
