//go:build real

package voice

import (
	"flag"
	"fmt"
	"maps"
	"math"
	"os/exec"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"testing"
	"time"

	"glidepace/sounds/loudness"
)

// englishCues are all words and numbers.
func englishCues(t *testing.T) (*Words, []Cue) {
	t.Helper()
	w, err := In("en")
	if err != nil {
		t.Fatal(err)
	}
	var cues []Cue
	for _, name := range wordNames {
		cues = append(cues, w.cue(name))
	}
	for n := range mostReps {
		cues = append(cues, w.count(n+1))
	}
	return w, append(cues, Cue{"long", "Sit tall, both feet on the floor, and let the shoulders sink. The elbow stays close to the body."})
}

func TestRealEspeak(t *testing.T) {
	w, cues := englishCues(t)
	o := Options{Words: w, Source: Espeak, Cache: t.TempDir()}
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
	for i, c := range cues {
		clip := v.Clip(c.Name)
		if !slices.Equal(clip, again.Clip(c.Name)) {
			t.Errorf("%q is another from the cache", c.Text)
		}
		// At 150 words a minute, that is 14 letters a second.
		if s := float64(len(clip)) / rate; s < 0.15 || s > 0.5+float64(len(c.Text))/8 {
			t.Errorf("%q takes %.2f s", c.Text, s)
		}
		l := loudness.Integrated(clip.floats())
		if softest = min(softest, l); math.Abs(l-Loudness) > 1 {
			t.Errorf("%q is at %.2f LUFS, want %.2f", c.Text, l, Loudness)
		}
		for _, other := range cues[:i] {
			if slices.Equal(clip, v.Clip(other.Name)) {
				t.Errorf("%q and %q sound the same", c.Text, other.Text)
			}
		}
	}
	t.Logf("the softest is at %.2f LUFS, of %.2f", softest, Loudness)
}

var update = flag.Bool("update", false, "write the lengths of what espeak-ng says")

// The lengths that other tests lay sessions out with are those of espeak-ng.
func TestRealSeconds(t *testing.T) {
	w := english(t)
	texts := map[string]Cue{}
	for _, line := range wholeSessions(t) {
		for _, c := range w.Cues(line.Session()) {
			texts[c.Text] = c
		}
	}
	own := laid(t, fmt.Sprintf(neckSession, "full", "", ownNeck))
	for _, c := range w.Cues(own.Session()) {
		texts[c.Text] = c
	}
	var list []string
	for _, text := range slices.Sorted(maps.Keys(texts)) {
		clip, err := (&maker{cache{t.TempDir()}, speaker(t)}).spoken(t.Context(), text)
		if err != nil {
			t.Fatal(err)
		}
		list = append(list, fmt.Sprintf("%.2f %s\n", float64(len(clip))/rate, text))
	}
	if *update {
		write(t, "testdata/seconds.txt", []byte(strings.Join(list, "")))
	}
	kept := spokenSeconds(t)
	for _, l := range list {
		number, text, _ := strings.Cut(strings.TrimSpace(l), " ")
		seconds, _ := strconv.ParseFloat(number, 64)
		if k := kept[text]; math.Abs(k-seconds) > 0.05+0.03*seconds {
			t.Errorf("%q takes %.2f s, kept are %.2f", text, seconds, k)
		}
	}
}

func speaker(t *testing.T) *espeak {
	e, err := findEspeak(t.Context(), "en")
	if err != nil || e == nil {
		t.Fatal(e, err)
	}
	return e
}

func TestRealEspeakDoesNotKnowTheVoice(t *testing.T) {
	_, _, err := Load(t.Context(), someCues, Options{Words: &Words{Espeak: "xx-nowhere"}, Source: Auto, Cache: t.TempDir()})
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
				checkA4(t, v.Clip("count-3").floats(), 0.99)
			})
		}
	}
}
