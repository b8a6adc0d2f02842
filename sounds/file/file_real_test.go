//go:build real

package file

import (
	"bytes"
	"context"
	"encoding/binary"
	"encoding/json"
	"errors"
	"math"
	"math/cmplx"
	"os"
	"os/exec"
	"path/filepath"
	"strconv"
	"strings"
	"syscall"
	"testing"
	"time"

	"gonum.org/v1/gonum/dsp/fourier"

	"glidepace/pacer"
)

// run returns what a program prints, and fails where it is missing or fails.
func run(t *testing.T, name string, args ...string) string {
	t.Helper()
	var stderr bytes.Buffer
	cmd := exec.Command(name, args...)
	cmd.Stderr = &stderr
	out, err := cmd.Output()
	if err != nil {
		t.Fatalf("%s: %v\n%s", cmd, err, stderr.Bytes())
	}
	return strings.TrimSpace(string(out))
}

func put(t *testing.T, name, content string) {
	t.Helper()
	if err := os.WriteFile(name, []byte(content), 0o600); err != nil {
		t.Fatal(err)
	}
}

const realTitle = `Médian – "left" arm; a=b \ c`

// hertz is in the middle of a bin of the spectrum below.
const hertz = 600 * pacer.SampleRate / 65536.0

// tone is a source of one frequency in hertz, for ten seconds.
type tone float64

func (f tone) Len() int { return 10 * pacer.SampleRate }

func (f tone) Fill(dst []int16, at int) {
	for i := range dst {
		dst[i] = int16(math.Round(8000 * math.Sin(2*math.Pi*float64(f)*float64(at+i)/pacer.SampleRate)))
	}
}

// write10 writes ten seconds of one tone.
func write10(t *testing.T, dir, base string) string {
	t.Helper()
	name := filepath.Join(dir, base)
	if err := Write(t.Context(), name, tone(hertz), Options{Title: realTitle}); err != nil {
		t.Fatal(err)
	}
	wantFolder(t, dir, base)
	return name
}

// Names as people give them do not confuse ffmpeg.
var realNames = []string{"a.wav", "- two words.flac", "10:30 a.mp3", "%d é.m4a", "pipe:1.opus"}

func TestFlacTestsTheFile(t *testing.T) {
	for _, n := range lengths {
		name := filepath.Join(t.TempDir(), "a.flac")
		if err := Write(t.Context(), name, mixed(n), Options{}); err != nil {
			t.Fatal(err)
		}
		args := []string{"--test", "--silent", name}
		if n > 0 { // it takes a length of 0 for one that is not given
			args = append(args, "--warnings-as-errors")
		}
		run(t, "flac", args...)
		run(t, "flac", "--decode", "--silent", "--force-raw-format", "--endian=little", "--sign=signed", "-o", name+".raw", name)
		if !bytes.Equal(read(t, name+".raw"), samples(mixed(n))) {
			t.Errorf("%d frames: other samples", n)
		}
	}
}

// Every player that builds on ffmpeg sees the length, the title and the codec,
// and hears the tone.
func TestFfmpegReadsTheFiles(t *testing.T) {
	codecs := []string{"pcm_s16le", "flac", "mp3", "aac", "opus"}
	for i, base := range realNames {
		name := write10(t, t.TempDir(), base)
		var probed struct {
			Streams []struct {
				Codec    string            `json:"codec_name"`
				Rate     string            `json:"sample_rate"`
				Channels int               `json:"channels"`
				Tags     map[string]string `json:"tags"`
			} `json:"streams"`
			Format struct {
				Duration string            `json:"duration"`
				Tags     map[string]string `json:"tags"`
			} `json:"format"`
		}
		out := run(t, "ffprobe", "-v", "error", "-of", "json", "-show_streams", "-show_format", "file:"+name)
		if err := json.Unmarshal([]byte(out), &probed); err != nil || len(probed.Streams) != 1 {
			t.Fatalf("%s: %v in %s", base, err, out)
		}
		s := probed.Streams[0]
		if s.Codec != codecs[i] || s.Rate != "48000" || s.Channels != 1 {
			t.Errorf("%s: %+v", base, s)
		}
		// An encoder may add its delay and fill its last frame.
		if d, err := strconv.ParseFloat(probed.Format.Duration, 64); err != nil || d < 10 || d > 10.08 {
			t.Errorf("%s: %q s, want 10", base, probed.Format.Duration)
		}
		title := ""
		for _, tags := range []map[string]string{s.Tags, probed.Format.Tags} {
			for k, v := range tags {
				if strings.EqualFold(k, "title") {
					title = v
				}
			}
		}
		if want := realTitle; title != want && base != "a.wav" {
			t.Errorf("%s: title %q, want %q", base, title, want)
		}

		raw := name + ".raw"
		run(t, "ffmpeg", "-v", "error", "-i", "file:"+name, "-f", "s16le", "file:"+raw)
		b := read(t, raw)
		if lossless := i < 2; lossless && !bytes.Equal(b, samples(tone(hertz))) {
			t.Errorf("%s: other samples", base)
		}
		if n := len(b) / 2; n < 480000 || n > 480000+4000 {
			t.Errorf("%s: %d frames, want 480000", base, n)
		}
		got, level := strongest(b[2*pacer.SampleRate : 2*pacer.SampleRate+2*65536])
		if decibels := 20 * math.Log10(level/8000); got != hertz || math.Abs(decibels) > 0.2 {
			t.Errorf("%s: %.1f Hz, %+.2f dB; want %.1f Hz as it was", base, got, decibels, hertz)
		}
	}
}

// strongest returns the frequency and level of the highest peak in a spectrum.
func strongest(pcm []byte) (hertz, level float64) {
	x := make([]float64, len(pcm)/2)
	for i := range x {
		hann := 1 - math.Cos(2*math.Pi*float64(i)/float64(len(x)))
		x[i] = hann * float64(int16(binary.LittleEndian.Uint16(pcm[2*i:])))
	}
	best, at := 0.0, 0
	for k, c := range fourier.NewFFT(len(x)).Coefficients(nil, x) {
		if a := cmplx.Abs(c); a > best {
			best, at = a, k
		}
	}
	return float64(at) * pacer.SampleRate / float64(len(x)), 2 * best / float64(len(x))
}

func TestCancelEndsFfmpeg(t *testing.T) {
	for _, c := range codecs {
		dir := t.TempDir()
		ctx, cancel := context.WithCancel(t.Context())
		err := Write(ctx, filepath.Join(dir, "a"+c.ext), mixed(100*pacer.SampleRate), Options{Progress: func(done, _ int) {
			if done > 10*pacer.SampleRate {
				cancel()
			}
		}})
		cancel()
		if !errors.Is(err, context.Canceled) {
			t.Errorf("%s: %v", c.ext, err)
		}
		wantFolder(t, dir)
	}
}

// stub puts a program called ffmpeg in front of others.
func stub(t *testing.T, script string) {
	t.Helper()
	dir := t.TempDir()
	if err := os.WriteFile(filepath.Join(dir, "ffmpeg"), []byte("#!/bin/sh\n"+script), 0o755); err != nil {
		t.Fatal(err)
	}
	t.Setenv("PATH", dir+":"+os.Getenv("PATH"))
}

func TestFfmpegFails(t *testing.T) {
	real, err := exec.LookPath("ffmpeg")
	if err != nil {
		t.Fatal(err)
	}
	const output = `for a do :; done; name=${a#file:}; ` // the last argument
	defer func(d time.Duration) { ffmpegTime = d }(ffmpegTime)
	for _, c := range []struct{ ext, name, script, want string }{
		{".opus", "at once", "echo no luck today >&2; exit 3", "no luck today"},
		{".opus", "half way", "head -c 100000 > /dev/null; echo no luck later >&2; exit 3", "no luck later"},
		{".opus", "killed", "kill -9 $$", "killed"},
		// A real one that lacks the encoder.
		{".opus", "no encoder", `for a do shift; [ "$a" = libopus ] && a=libnone; set -- "$@" "$a"; done; exec ` + real + ` "$@"`, ".flac"},
		// These end as if all were well.
		{".mp3", "nothing", "cat > /dev/null", "is not .mp3 with 60 s of sound"},
		{".opus", "no file", output + `cat > /dev/null; rm "$name"`, "has written nothing"},
		{".m4a", "text", output + `cat > /dev/null; seq 100000 > "$name"`, "is not .m4a with 60 s of sound"},
		{".opus", "without reading", "exit 0", "ended early"},
		{".mp3", "half an MP3", "head -c 2880000 | " + real + ` "$@"; cat > /dev/null`, "is not .mp3 with 60 s of sound"},
		{".m4a", "half an M4A", "head -c 2880000 | " + real + ` "$@"; cat > /dev/null`, "is not .m4a with 60 s of sound"},
		{".opus", "half an Opus", "head -c 2880000 | " + real + ` "$@"; cat > /dev/null`, "is not .opus with 60 s of sound"},
		// These never end.
		{".mp3", "endless", output + `cat /dev/zero > "$name"`, "it writes more than the 6649 kB"}, // 60 s of PCM and a megabyte
		{".mp3", "hangs", "sleep 1000", "no answer in 500ms"},
		{".mp3", "hangs at the end", "cat > /dev/null; sleep 1000", "no answer in 500ms"},
	} {
		t.Run(c.name, func(t *testing.T) {
			stub(t, c.script)
			if strings.HasPrefix(c.name, "hangs") {
				ffmpegTime = 500 * time.Millisecond
			}
			dir := t.TempDir()
			name := "a" + c.ext
			err := Write(t.Context(), filepath.Join(dir, name), mixed(60*pacer.SampleRate), Options{})
			if err == nil || !strings.Contains(err.Error(), c.want) || !strings.Contains(err.Error(), name) {
				t.Errorf("%v, want one with %q", err, c.want)
			}
			wantFolder(t, dir)
		})
	}
}

// A disk that is full at any moment leaves nothing, and says so.
func TestFullDisk(t *testing.T) {
	dir := t.TempDir()
	if err := syscall.Mount("tmpfs", dir, "tmpfs", 0, "size=1m"); err != nil {
		t.Fatal("root is needed to mount a small disk: ", err)
	}
	t.Cleanup(func() {
		if err := syscall.Unmount(dir, 0); err != nil {
			t.Error(err)
		}
	})
	for _, ext := range Extensions() {
		// What is free by then: nothing, less than an encoder holds back, more.
		for _, free := range []int{0, 4 << 10, 40 << 10} {
			put(t, filepath.Join(dir, "filler"), strings.Repeat("x", 1<<20-free))
			err := Write(t.Context(), filepath.Join(dir, "a"+ext), mixed(30*pacer.SampleRate), Options{Title: "Full"})
			if !errors.Is(err, syscall.ENOSPC) || !strings.HasSuffix(err.Error(), ": "+syscall.ENOSPC.Error()) {
				t.Errorf("%s with %d bytes free: %v", ext, free, err)
			}
			wantFolder(t, dir, "filler")
			if err := os.Remove(filepath.Join(dir, "filler")); err != nil {
				t.Fatal(err)
			}
		}
	}
}
