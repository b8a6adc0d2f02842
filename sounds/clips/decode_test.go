package clips

import (
	"bytes"
	"context"
	"errors"
	"math"
	"math/rand/v2"
	"strings"
	"testing"
	"testing/synctest"
)

// sounds like 440 Hz for about so many seconds.
func checkA4(t *testing.T, samples []float64, seconds float64) {
	t.Helper()
	if got := float64(len(samples)) / rate; got < seconds || got > seconds+0.11 {
		t.Errorf("%.3f s, want %v", got, seconds) // MP3 and OGG add a little
	}
	middle := samples[len(samples)/4 : len(samples)*3/4]
	if at, _ := spectrumOf(middle).peak(100, 20000); math.Abs(at-440) > 0.5 {
		t.Errorf("%.2f Hz, want 440", at)
	}
}

func TestDecode(t *testing.T) {
	tone := func(rate int) []float64 { return sine(440, rate, 0.5) }
	pcm := func(bits, channels int) []byte {
		return wave{coding: wavPCM, bits: bits, channels: channels, rate: 44100, samples: tone(44100)}.bytes()
	}
	unknown := wav(tone(22050), 22050)
	for name, file := range map[string][]byte{
		"WAV 8 kHz":           wav(tone(8000), 8000),
		"WAV 22.05 kHz":       wav(tone(22050), 22050),
		"WAV 44.1 kHz":        wav(tone(44100), 44100),
		"WAV 48 kHz":          wav(tone(48000), 48000),
		"WAV 96 kHz":          wav(tone(96000), 96000),
		"WAV 8 bits":          pcm(8, 1),
		"WAV 16 bits stereo":  pcm(16, 2),
		"WAV 24 bits":         pcm(24, 1),
		"WAV 24 bits stereo":  pcm(24, 2),
		"WAV 32 bits":         pcm(32, 2),
		"WAV six channels":    pcm(16, 6),
		"WAV float":           wave{coding: wavFloat, bits: 32, channels: 2, rate: 44100, samples: tone(44100)}.bytes(),
		"WAV long float":      wave{coding: wavFloat, bits: 64, channels: 1, rate: 44100, samples: tone(44100)}.bytes(),
		"WAV extensible":      wave{coding: wavPCM, bits: 24, channels: 2, rate: 44100, samples: tone(44100), extensible: true}.bytes(),
		"WAV of espeak-ng":    withSize(unknown, 0x7ffff000), // into a pipe
		"WAV of a pipe":       withSize(unknown, 0xffffffff),
		"FLAC 8 kHz":          flacFile(t, tone(8000), 8000, 1),
		"FLAC 44.1 kHz":       flacFile(t, tone(44100), 44100, 1),
		"FLAC 96 kHz stereo":  flacFile(t, tone(96000), 96000, 2),
		"MP3":                 testFile(t, "440.mp3"),
		"OGG":                 testFile(t, "440.ogg"),
		"MP3 behind a title":  append([]byte("ID3\x03\x00\x00\x00\x00\x00\x0a0123456789"), testFile(t, "440.mp3")...),
		"WAV and what behind": append(wav(tone(44100), 44100), "something else"...),
	} {
		t.Run(name, func(t *testing.T) {
			samples, err := decode(t.Context(), file)
			if err != nil {
				t.Fatal(err)
			}
			checkA4(t, samples, 0.5)
			if !strings.HasPrefix(name, "MP3") && !strings.HasPrefix(name, "OGG") {
				if _, a := spectrumOf(samples[:rate/2]).peak(400, 500); math.Abs(a-0.5) > 0.01 {
					t.Errorf("an amplitude of %.3f, want 0.5", a)
				}
			}
		})
	}
}

func TestStereoIsMixed(t *testing.T) {
	le := wave{coding: wavPCM, bits: 16, channels: 2, rate: rate, samples: sine(440, rate, 0.1)}.bytes()
	at := bytes.Index(le, []byte("data")) + 8
	for i := at; i < len(le); i += 4 { // the left channel is silent
		le[i], le[i+1] = 0, 0
	}
	samples, err := decode(t.Context(), le)
	if err != nil {
		t.Fatal(err)
	}
	peak := 0.0
	for _, x := range samples {
		peak = max(peak, x)
	}
	if math.Abs(peak-0.25) > 0.001 {
		t.Errorf("a peak of %.4f, want 0.25", peak)
	}
}

func TestDecodeRefuses(t *testing.T) {
	tone := sine(440, 8000, 0.5)
	good := wav(tone, 8000)
	goodFLAC := flacFile(t, tone, 8000, 1)
	change := func(at int, to ...byte) []byte {
		file := bytes.Clone(good)
		copy(file[at:], to)
		return file
	}
	long := make([]float64, 31*8000)
	for name, c := range map[string]struct {
		file []byte
		want string
	}{
		"empty":                {nil, "no sound"},
		"text":                 {[]byte("Breathe in.\n"), "is not a WAV, FLAC, MP3 or OGG"},
		"text in UTF-16":       {[]byte("\xff\xfeB\x00r\x00"), "is not a WAV"},
		"a picture":            {[]byte("\x89PNG\r\n\x1a\n\x00\x00"), "is not a WAV"},
		"an M4A":               {[]byte("\x00\x00\x00\x20ftypM4A \x00"), "is not a WAV"},
		"AAC":                  {[]byte("\xff\xf1\x50\x80\x02\x1f\xfc"), "is not a WAV"},
		"Opus in OGG":          {[]byte("OggS\x00\x06\x00\x00\x00\x00\x00\x00\x00\x00\x01\x00\x00\x00\x00\x00\x00\x00\x00\x00\x00\x00\x01\x08OpusHead"), "damaged, or of a kind that is not known"},
		"a WAV of no data":     {wav(nil, 8000), "no sound"},
		"a WAV cut off":        {good[:len(good)-1000], "cut off"},
		"a WAV of a header":    {good[:20], "cut off"},
		"a WAV without format": {riff(chunk("data", make([]byte, 100))), "damaged"},
		"a WAV of ADPCM":       {change(20, 2, 0), "format 2, 16 bits"},
		"a WAV of 12 bits":     {change(34, 12, 0), "format 1, 12 bits"},
		"a WAV of no channels": {change(22, 0, 0), "damaged"},
		"a WAV of 1 Hz":        {change(24, 1, 0, 0, 0), "sample rate of 1 Hz"},
		"a WAV of 3 MHz":       {change(24, 0xc0, 0xc6, 0x2d, 0), "sample rate of 3000000 Hz"},
		"a WAV of 31 s":        {wav(long, 8000), "longer than 30 s"},
		"a WAV of huge chunks": {riff(chunk("fmt ", make([]byte, 16)), []byte("LIST\xff\xff\xff\xff")), "cut off"},
		"a FLAC of 31 s":       {flacFile(t, long, 8000, 1), "longer than 30 s"},
		"a FLAC cut off":       {goodFLAC[:len(goodFLAC)-100], "damaged"},
		"an OGG cut off":       {testFile(t, "440.ogg")[:4000], "cut off"},
		"an MP3 of a header":   {testFile(t, "440.mp3")[:40], "damaged"},
		"an MP3 of 22.05 kHz":  {testFile(t, "22050.mp3"), "save it as WAV or at 44100 Hz"},
	} {
		t.Run(name, func(t *testing.T) {
			_, err := decode(t.Context(), c.file)
			if err == nil || !strings.Contains(err.Error(), c.want) {
				t.Errorf("%v, want something with %q", err, c.want)
			}
		})
	}
}

// A FLAC file of whole frames that has fewer of them than its header says.
func TestDecodeRefusesMissingFrames(t *testing.T) {
	file := flacFile(t, sine(440, 8000, 2), 8000, 1)
	one := len(flacFile(t, sine(440, 8000, 4096.0/8000), 8000, 1))
	if _, err := decode(t.Context(), file[:one]); err != errCutOff {
		t.Errorf("%v, want %v", err, errCutOff)
	}
}

func TestDecoderThatPanics(t *testing.T) {
	_, _, err := guarded(t.Context(), func([]byte) ([]float64, int, error) { panic("no") }, nil)
	if err != errDamaged {
		t.Errorf("%v, want %v", err, errDamaged)
	}
}

func TestDecoderThatNeverEnds(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		end := make(chan bool)
		defer close(end)
		forever := func([]byte) ([]float64, int, error) { <-end; return nil, 0, nil }
		if _, _, err := guarded(t.Context(), forever, nil); err != errDamaged {
			t.Errorf("%v, want %v", err, errDamaged)
		}
		ctx, cancel := context.WithCancelCause(t.Context())
		enough := errors.New("enough")
		cancel(enough)
		if _, _, err := guarded(ctx, forever, nil); err != enough {
			t.Errorf("%v, want %v", err, enough)
		}
	})
}

// smallFiles are valid ones of each kind.
func smallFiles(t testing.TB) map[string][]byte {
	tone := sine(440, 8000, 0.06)
	return map[string][]byte{
		"WAV":  wav(tone, 8000),
		"FLAC": flacFile(t, tone, 8000, 1),
		"MP3":  testFile(t, "440.mp3")[:600],
		"OGG":  testFile(t, "440.ogg"),
	}
}

// whole runs a file all the way. Any answer is good, so that it comes.
func whole(t testing.TB, file []byte) {
	if samples, err := decode(t.Context(), file); err == nil {
		if clip, err := newClip(samples); err == nil && len(clip) < minimum {
			t.Errorf("a clip of %d frames", len(clip))
		}
	}
}

func TestDecodeEveryTruncation(t *testing.T) {
	for name, file := range smallFiles(t) {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			for n := range file {
				whole(t, file[:n])
			}
		})
	}
}

func TestDecodeWrongBytes(t *testing.T) {
	for name, file := range smallFiles(t) {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			random := rand.New(rand.NewPCG(1, 2))
			for range 300 {
				wrong := bytes.Clone(file)
				for range 1 + random.IntN(4) {
					at := random.IntN(len(wrong))
					if random.IntN(2) == 0 {
						at = random.IntN(min(64, len(wrong))) // in the header
					}
					wrong[at] = byte(random.Uint32())
				}
				whole(t, wrong)
			}
		})
	}
}

func FuzzDecode(f *testing.F) {
	for _, file := range smallFiles(f) {
		f.Add(file)
	}
	f.Fuzz(func(t *testing.T, file []byte) { whole(t, file) })
}
