//go:build real

package loudness

import (
	"bytes"
	"encoding/binary"
	"math"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"slices"
	"strconv"
	"testing"

	"glidepace/pacer"
)

// ebur128 returns what ffmpeg measures of samples played so many times: the
// loudness in LUFS and the true peak in dBTP, of which it shows tenths.
func ebur128(t *testing.T, samples []float64, times int) (integrated, peak float64) {
	t.Helper()
	name := filepath.Join(t.TempDir(), "sound.f64")
	data, err := binary.Append(nil, binary.LittleEndian, samples)
	if err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(name, data, 0o600); err != nil {
		t.Fatal(err)
	}
	text, err := exec.Command("ffmpeg", "-nostats", "-hide_banner", "-stream_loop", strconv.Itoa(times-1),
		"-f", "f64le", "-ar", "48000", "-ac", "1", "-i", name,
		"-filter_complex", "ebur128=peak=true:framelog=verbose", "-f", "null", "-").CombinedOutput()
	if err != nil {
		t.Fatalf("ffmpeg, of Debian's package of that name: %v\n%s", err, text)
	}
	figure := func(pattern string) float64 {
		found := regexp.MustCompile(pattern).FindSubmatch(text)
		if found == nil {
			t.Fatalf("no %s in\n%s", pattern, text)
		}
		x, err := strconv.ParseFloat(string(found[1]), 64)
		if err != nil {
			t.Fatal(err)
		}
		return x
	}
	return figure(`(?s)Summary:.* I: +(\S+) LUFS`), figure(`(?s)Summary:.* Peak: +(\S+) dBFS`)
}

// compare measures samples here and with ffmpeg, which gets them as many times
// over as Integrated takes them.
func compare(t *testing.T, samples []float64) {
	t.Helper()
	times := 1
	if len(samples) < long {
		times = (long + len(samples) - 1) / len(samples)
	}
	integrated, peak := ebur128(t, samples, times)
	ours, high := Integrated(samples), truePeak(samples)
	t.Logf("%.2f LUFS, %.2f dBTP; ffmpeg, %d times: %.1f, %.1f", ours, high, times, integrated, peak)
	nearTo(t, "integrated", ours, integrated, 0.1)
	nearTo(t, "true peak", high, peak, 0.2)
}

// faded lets samples come and go over 10 ms: a sine that is cut hard rings, and
// how high is a matter of the filter's length.
func faded(samples []float64) []float64 {
	const edge = pacer.SampleRate / 100
	for n := range edge {
		samples[n] *= float64(n) / edge
		samples[len(samples)-1-n] *= float64(n) / edge
	}
	return samples
}

func TestAgainstFFmpeg(t *testing.T) {
	const tenSeconds = 10 * pacer.SampleRate
	loud := sine(440, 0.3, 0, tenSeconds)
	leveled := speech(0.05, 2*pacer.SampleRate)
	Level(leveled, -19, 0.5)
	for _, c := range []struct {
		name    string
		samples []float64
	}{
		{"997 Hz", sine(997, 1, 0, tenSeconds)},
		{"100 Hz", sine(100, 0.5, 0, tenSeconds)},
		{"8 kHz", faded(sine(8000, 0.2, 0, tenSeconds))},
		{"a quarter of the rate", faded(sine(12000, 0.5, math.Pi/4, tenSeconds))},
		{"white noise", noise(0.5, tenSeconds)},
		{"speech-like", speech(0.8, 20*pacer.SampleRate)},
		{"loud, then silence", slices.Concat(loud, make([]float64, tenSeconds))},
		{"loud, then 6 dB softer, then 14", slices.Concat(loud, scaled(loud, 0.5), scaled(loud, 0.2))},
		{"a word of 150 ms", speech(0.5, 7200)},
		{"a word of 350 ms", speech(0.5, 16800)},
		{"a word of 600 ms", speech(0.5, 28800)},
		{"one second and a bit", speech(0.5, 51234)},
		{"leveled", leveled},
	} {
		t.Run(c.name, func(t *testing.T) { compare(t, c.samples) })
	}
}

// Words of a synthetic voice as they come, and cut and leveled.
func TestSpokenAgainstFFmpeg(t *testing.T) {
	for _, words := range []string{"three", "rest", "Change sides. Left arm now.",
		"Stand tall, with the arm out to the side at the height of the shoulder. Let the wrist bend back, and the head lean away."} {
		t.Run(words, func(t *testing.T) {
			name := filepath.Join(t.TempDir(), "words.wav")
			if text, err := exec.Command("espeak-ng", "-v", "en", "-w", name, words).CombinedOutput(); err != nil {
				t.Fatalf("espeak-ng, of Debian's package of that name: %v\n%s", err, text)
			}
			data, err := exec.Command("ffmpeg", "-v", "error", "-i", name, "-f", "f64le", "-ar", "48000", "-ac", "1", "-").Output()
			if err != nil {
				t.Fatalf("ffmpeg, of Debian's package of that name: %v", err)
			}
			clip := make([]float64, len(data)/8)
			if err := binary.Read(bytes.NewReader(data), binary.LittleEndian, clip); err != nil {
				t.Fatal(err)
			}
			compare(t, clip)
			heard := func(x float64) bool { return math.Abs(x) > 0.003 }
			clip = clip[slices.IndexFunc(clip, heard):]
			for !heard(clip[len(clip)-1]) {
				clip = clip[:len(clip)-1]
			}
			for _, target := range []float64{-23, -19, -18} {
				leveled := slices.Clone(clip)
				nearTo(t, "reached", Level(leveled, target, 0.5), target, near)
				under(t, leveled, 0.5)
				compare(t, leveled)
			}
		})
	}
}
