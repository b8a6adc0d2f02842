package clips

import (
	"bytes"
	"encoding/binary"
	"math"
	"math/cmplx"
	"os"
	"path/filepath"
	"testing"

	"github.com/mewkiz/flac"
	"github.com/mewkiz/flac/frame"
	"github.com/mewkiz/flac/meta"
	"gonum.org/v1/gonum/dsp/fourier"

	"glidepace/sounds/voice"
)

// sine returns a sine of an amplitude of 0.5.
func sine(hertz float64, rate int, seconds float64) []float64 {
	samples := make([]float64, int(seconds*float64(rate)))
	for i := range samples {
		samples[i] = 0.5 * math.Sin(2*math.Pi*hertz*float64(i)/float64(rate))
	}
	return samples
}

// wave is a WAV file in the making.
type wave struct {
	coding, channels, bits int
	rate                   int
	samples                []float64 // of one channel
	extensible             bool
}

// bytes returns the file; the samples are in each channel.
func (w wave) bytes() []byte {
	le := binary.LittleEndian
	align := w.channels * w.bits / 8
	var data []byte
	for _, x := range w.samples {
		for range w.channels {
			switch {
			case w.coding == wavFloat && w.bits == 32:
				data = le.AppendUint32(data, math.Float32bits(float32(x)))
			case w.coding == wavFloat:
				data = le.AppendUint64(data, math.Float64bits(x))
			case w.bits == 8:
				data = append(data, byte(math.Round(x*127)+128))
			default:
				v := uint32(int32(math.Round(x * (1<<31 - 1))))
				b := le.AppendUint32(nil, v)
				data = append(data, b[4-w.bits/8:]...)
			}
		}
	}
	coding := w.coding
	if w.extensible {
		coding = wavExtensible
	}
	format := le.AppendUint16(nil, uint16(coding))
	format = le.AppendUint16(format, uint16(w.channels))
	format = le.AppendUint32(format, uint32(w.rate))
	format = le.AppendUint32(format, uint32(w.rate*align))
	format = le.AppendUint16(format, uint16(align))
	format = le.AppendUint16(format, uint16(w.bits))
	if w.extensible {
		format = append(format, 22, 0, byte(w.bits), 0, 0, 0, 0, 0, byte(w.coding))
		format = append(format, "\x00\x00\x00\x00\x00\x10\x00\x80\x00\x00\xaa\x00\x38\x9b\x71"...)
	}
	return riff(chunk("fmt ", format), chunk("LIST", []byte("odd")), chunk("data", data))
}

func chunk(id string, body []byte) []byte {
	c := binary.LittleEndian.AppendUint32([]byte(id), uint32(len(body)))
	c = append(c, body...)
	return append(c, make([]byte, len(body)%2)...)
}

func riff(chunks ...[]byte) []byte {
	body := bytes.Join(chunks, nil)
	return append(binary.LittleEndian.AppendUint32([]byte("RIFF"), uint32(4+len(body))), append([]byte("WAVE"), body...)...)
}

// wav returns a file of 16 bits and one channel.
func wav(samples []float64, rate int) []byte {
	return wave{coding: wavPCM, channels: 1, bits: 16, rate: rate, samples: samples}.bytes()
}

// withSize returns a WAV file whose header says that the data are so long.
func withSize(file []byte, size uint32) []byte {
	file = bytes.Clone(file)
	binary.LittleEndian.PutUint32(file[bytes.Index(file, []byte("data"))+4:], size)
	return file
}

// flacFile returns a FLAC file of 16 bits that says its length.
func flacFile(t testing.TB, samples []float64, rate, channels int) []byte {
	t.Helper()
	var file bytes.Buffer
	const block = 4096
	enc, err := flac.NewEncoder(&file, &meta.StreamInfo{
		BlockSizeMin: 16, BlockSizeMax: block, SampleRate: uint32(rate), NChannels: uint8(channels),
		BitsPerSample: 16, NSamples: uint64(len(samples)),
	})
	if err != nil {
		t.Fatal(err)
	}
	for at := 0; at < len(samples); at += block {
		part := samples[at:min(at+block, len(samples))]
		f := &frame.Frame{Header: frame.Header{
			BlockSize: uint16(len(part)), SampleRate: uint32(rate), Channels: frame.Channels(channels - 1), BitsPerSample: 16,
		}}
		for range channels {
			s := &frame.Subframe{SubHeader: frame.SubHeader{Pred: frame.PredVerbatim}, NSamples: len(part)}
			for _, x := range part {
				s.Samples = append(s.Samples, int32(math.Round(x*math.MaxInt16)))
			}
			f.Subframes = append(f.Subframes, s)
		}
		if err := enc.WriteFrame(f); err != nil {
			t.Fatal(err)
		}
	}
	if err := enc.Close(); err != nil {
		t.Fatal(err)
	}
	return file.Bytes()
}

func testFile(t testing.TB, name string) []byte {
	t.Helper()
	file, err := os.ReadFile(filepath.Join("testdata", name))
	if err != nil {
		t.Fatal(err)
	}
	return file
}

func write(t testing.TB, path string, file []byte) {
	t.Helper()
	if err := os.WriteFile(path, file, 0o600); err != nil {
		t.Fatal(err)
	}
}

func floats(c voice.Clip) []float64 {
	samples := make([]float64, len(c))
	for i, x := range c {
		samples[i] = float64(x) / math.MaxInt16
	}
	return samples
}

// spectrum is that of samples at 48 kHz under a Blackman–Harris window.
type spectrum []float64

func spectrumOf(samples []float64) spectrum {
	windowed := make([]float64, len(samples))
	for i, x := range samples {
		w := 2 * math.Pi * float64(i) / float64(len(samples))
		windowed[i] = x * (0.35875 - 0.48829*math.Cos(w) + 0.14128*math.Cos(2*w) - 0.01168*math.Cos(3*w))
	}
	var s spectrum
	for _, c := range fourier.NewFFT(len(samples)).Coefficients(nil, windowed) {
		s = append(s, cmplx.Abs(c)/float64(len(samples))*2/0.35875)
	}
	return s
}

// hertz returns the frequency of bin k.
func (s spectrum) hertz(k float64) float64 { return k * rate / float64(2*(len(s)-1)) }

// peak returns the frequency of the strongest line between two frequencies,
// and its amplitude. Between bins it lies on a parabola through logarithms.
func (s spectrum) peak(low, high float64) (hertz, amplitude float64) {
	best := 0
	for k, a := range s {
		if f := s.hertz(float64(k)); f >= low && f <= high && a > s[best] {
			best = k
		}
	}
	if best == 0 || best == len(s)-1 {
		return s.hertz(float64(best)), s[best]
	}
	a, b, c := math.Log(s[best-1]), math.Log(s[best]), math.Log(s[best+1])
	return s.hertz(float64(best) + (a-c)/(a-2*b+c)/2), s[best]
}

func decibels(x float64) float64 { return 20 * math.Log10(x) }
