package file

import (
	"context"
	"encoding/binary"
	"fmt"
	"math"

	"glidepace/pacer"
	"glidepace/sessions/safefile"
)

// writeWAV writes 16-bit PCM behind a header of 44 bytes.
func writeWAV(ctx context.Context, p *safefile.File, s Source, o Options) error {
	header, err := wavHeader(s.Len())
	if err != nil {
		return err
	}
	if _, err := p.Write(header); err != nil {
		return err
	}
	return pcm(ctx, p, s, o)
}

// wavHeader returns a RIFF header for some frames of 16-bit mono. Its 32-bit
// sizes are enough for 12 hours.
func wavHeader(frames int) ([]byte, error) {
	const (
		size  = 44
		align = 2 // bytes a frame
	)
	data := int64(frames) * align
	if data > math.MaxUint32-size {
		return nil, fmt.Errorf("%d frames are more than a WAV file can hold: use .flac", frames)
	}
	le := binary.LittleEndian
	h := make([]byte, 0, size)
	h = append(h, "RIFF"...)
	h = le.AppendUint32(h, uint32(size-8+data))
	h = append(h, "WAVEfmt "...)
	h = le.AppendUint32(h, 16) // size of what follows
	h = le.AppendUint16(h, 1)  // PCM
	h = le.AppendUint16(h, 1)  // channel
	h = le.AppendUint32(h, pacer.SampleRate)
	h = le.AppendUint32(h, pacer.SampleRate*align)
	h = le.AppendUint16(h, align)
	h = le.AppendUint16(h, 16) // bits
	h = append(h, "data"...)
	return le.AppendUint32(h, uint32(data)), nil
}
