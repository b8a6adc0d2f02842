package clips

import (
	"bytes"
	"context"
	"encoding/binary"
	"errors"
	"fmt"
	"io"
	"math"
	"time"

	"github.com/gopxl/beep/v2"
	"github.com/gopxl/beep/v2/flac"
	"github.com/gopxl/beep/v2/mp3"
	"github.com/gopxl/beep/v2/vorbis"
)

const (
	longest     = 30       // seconds of a recording
	largest     = 32 << 20 // bytes of one
	lowestRate  = 4000
	highestRate = 192000
	decodeTime  = 20 * time.Second // for one file; a slow machine needs a tenth of it
)

var (
	errDamaged = errors.New("is damaged: save it again")
	errCutOff  = errors.New("is cut off before its end: copy or save it again")
	errKind    = errors.New("is not a WAV, FLAC, MP3 or OGG Vorbis sound: save it as one of these")
	errLong    = fmt.Errorf("is longer than %d s: cut it to the words", longest)
	errEmpty   = errors.New("has no sound in it: record it again")
)

// decoder decodes a file into samples of one channel, and their rate.
type decoder func(file []byte) (samples []float64, rate int, err error)

// decode returns the samples of a sound file, one channel at 48 kHz. The first
// bytes tell what kind of file it is.
func decode(ctx context.Context, file []byte) ([]float64, error) {
	d, err := decoderOf(file)
	if err != nil {
		return nil, err
	}
	samples, rate, err := guarded(ctx, d, file)
	switch {
	case err != nil:
		return nil, err
	case len(samples) == 0:
		return nil, errEmpty
	}
	return resample(samples, rate), nil
}

func decoderOf(file []byte) (decoder, error) {
	begins := func(with string) bool { return bytes.HasPrefix(file, []byte(with)) }
	switch {
	case len(file) == 0:
		return nil, errEmpty
	case begins("RIFF") && len(file) >= 12 && string(file[8:12]) == "WAVE":
		return decodeWAV, nil
	case begins("fLaC"):
		return decodeFLAC, nil
	case begins("OggS"):
		return decodeOGG, nil
	case begins("ID3"), len(file) > 1 && file[0] == 0xff && file[1]&0xe6 == 0xe2: // layer III
		return decodeMP3, nil
	}
	return nil, errKind
}

// guarded runs a decoder, which may panic or never end on a damaged file. One
// that does not end is left running, because nothing can stop it.
func guarded(ctx context.Context, d decoder, file []byte) ([]float64, int, error) {
	type result struct {
		samples []float64
		rate    int
		err     error
	}
	ended := make(chan result, 1)
	go func() {
		var r result
		defer func() {
			if recover() != nil {
				r = result{err: errDamaged}
			}
			ended <- r
		}()
		r.samples, r.rate, r.err = d(file)
	}()
	late := time.NewTimer(decodeTime)
	defer late.Stop()
	select {
	case r := <-ended:
		return r.samples, r.rate, r.err
	case <-ctx.Done():
		return nil, 0, context.Cause(ctx)
	case <-late.C:
		return nil, 0, errDamaged
	}
}

func decodeFLAC(file []byte) ([]float64, int, error) { return drain(flac.Decode(reader(file))) }

func decodeMP3(file []byte) ([]float64, int, error) {
	s, f, err := mp3.Decode(reader(file))
	if err == nil && f.SampleRate == 22050 {
		// The decoder takes padded frames of MPEG-2 for one byte shorter than
		// they are and garbles them. The other rates need no padding.
		return nil, 0, errors.New("is an MP3 of 22050 Hz, which cannot be read: save it as WAV or at 44100 Hz")
	}
	return drain(s, f, err)
}

func decodeOGG(file []byte) ([]float64, int, error) {
	if !endsOGG(file) {
		return nil, 0, errCutOff
	}
	return drain(vorbis.Decode(reader(file)))
}

// endsOGG reports whether the last page of an Ogg file is complete and marked as
// the last (RFC 3533, section 6). The decoder does not notice that a file is cut
// off.
func endsOGG(file []byte) bool {
	page := file[max(0, bytes.LastIndex(file, []byte("OggS"))):]
	if len(page) < 27 {
		return false
	}
	size := 27 + int(page[26])
	if len(page) < size {
		return false
	}
	for _, n := range page[27:size] {
		size += int(n)
	}
	return page[5]&4 != 0 && len(page) >= size
}

// reader reads from file and cannot seek, so that the decoders do not read ahead
// through all of it or parse pictures and comments.
func reader(file []byte) io.ReadCloser { return io.NopCloser(bytes.NewReader(file)) }

// drain returns all samples of what a decoder of beep returns.
func drain(s beep.StreamSeekCloser, f beep.Format, err error) ([]float64, int, error) {
	if err != nil {
		return nil, 0, fmt.Errorf("is damaged, or of a kind that is not known (%v): save it again, best as 16-bit WAV", err)
	}
	rate := int(f.SampleRate)
	if err := checkRate(rate); err != nil {
		return nil, 0, err
	}
	var samples []float64
	var block [512][2]float64
	for {
		n, ok := s.Stream(block[:])
		for _, x := range block[:n] {
			samples = append(samples, (x[0]+x[1])/2)
		}
		if len(samples) > longest*rate {
			return nil, 0, errLong
		}
		if !ok || n == 0 {
			break
		}
	}
	if err := s.Err(); err != nil {
		return nil, 0, fmt.Errorf("is damaged (%v): save it again", err)
	}
	if len(samples) < s.Len() { // which is 0 if not known
		return nil, 0, errCutOff
	}
	return samples, rate, nil
}

func checkRate(rate int) error {
	if rate < lowestRate || rate > highestRate {
		return fmt.Errorf("has a sample rate of %d Hz; allowed are %d to %d: save it at 48000 Hz", rate, lowestRate, highestRate)
	}
	return nil
}

// Codings of samples in a WAV file. The last says that the coding comes later in
// the header.
const (
	wavPCM        = 1
	wavFloat      = 3
	wavExtensible = 0xfffe
)

// decodeWAV reads PCM of 8, 16, 24 and 32 bits and floats. beep's own decoder
// does not know the last two, and never ends on a header written before the
// length was known, as espeak-ng and others write into a pipe.
func decodeWAV(file []byte) ([]float64, int, error) {
	var format, data []byte
	for rest := file[12:]; data == nil; {
		if len(rest) < 8 {
			return nil, 0, errCutOff
		}
		id, size := string(rest[:4]), int64(binary.LittleEndian.Uint32(rest[4:]))
		rest = rest[8:]
		if id == "data" && size > largest {
			size = int64(len(rest)) // the length was not known
		}
		if size > int64(len(rest)) {
			return nil, 0, errCutOff
		}
		switch id {
		case "fmt ":
			format = rest[:size]
		case "data":
			data = rest[:size]
		}
		rest = rest[min(size+size&1, int64(len(rest))):]
	}
	if len(format) < 16 {
		return nil, 0, errDamaged
	}
	u16 := func(at int) int { return int(binary.LittleEndian.Uint16(format[at:])) }
	coding, channels, align, bits := u16(0), u16(2), u16(12), u16(14)
	rate := int(binary.LittleEndian.Uint32(format[4:]))
	if coding == wavExtensible && len(format) >= 26 {
		coding = u16(24)
	}
	value := wavValue(coding, bits)
	if value == nil {
		return nil, 0, fmt.Errorf("is coded in a way that is not known (format %d, %d bits): save it as 16-bit PCM", coding, bits)
	}
	if err := checkRate(rate); err != nil {
		return nil, 0, err
	}
	if channels == 0 || align != channels*bits/8 {
		return nil, 0, errDamaged
	}
	frames := len(data) / align
	if frames > longest*rate {
		return nil, 0, errLong
	}
	samples := make([]float64, frames)
	for i := range samples {
		for c := range channels {
			samples[i] += value(data[i*align+c*bits/8:])
		}
		samples[i] /= float64(channels)
	}
	return samples, rate, nil
}

// wavValue returns a function that reads one value, ±1 at full scale, or nil for
// an unknown coding.
func wavValue(coding, bits int) func([]byte) float64 {
	le := binary.LittleEndian
	switch {
	case coding == wavPCM && bits == 8:
		return func(b []byte) float64 { return (float64(b[0]) - 128) / (1 << 7) }
	case coding == wavPCM && bits == 16:
		return func(b []byte) float64 { return float64(int16(le.Uint16(b))) / (1 << 15) }
	case coding == wavPCM && bits == 24:
		return func(b []byte) float64 {
			return float64(int32(b[0])<<8|int32(b[1])<<16|int32(b[2])<<24) / (1 << 31)
		}
	case coding == wavPCM && bits == 32:
		return func(b []byte) float64 { return float64(int32(le.Uint32(b))) / (1 << 31) }
	case coding == wavFloat && bits == 32:
		return func(b []byte) float64 { return float64(math.Float32frombits(le.Uint32(b))) }
	case coding == wavFloat && bits == 64:
		return func(b []byte) float64 { return math.Float64frombits(le.Uint64(b)) }
	}
	return nil
}
