package file

import (
	"bufio"
	"context"
	"crypto/md5"
	"io"

	"github.com/mewkiz/flac"
	"github.com/mewkiz/flac/frame"
	"github.com/mewkiz/flac/meta"

	"glidepace/pacer"
	"glidepace/sessions/safefile"
)

const flacFrame = 4096 // samples in a FLAC frame, except the last

// writeFLAC writes 16-bit FLAC (RFC 9639) with a title, the length and the
// MD5 of the samples.
func writeFLAC(ctx context.Context, p *safefile.File, s Source, o Options) error {
	info := &meta.StreamInfo{
		BlockSizeMin: flacFrame, BlockSizeMax: flacFrame,
		SampleRate: pacer.SampleRate, NChannels: 1, BitsPerSample: 16, NSamples: uint64(s.Len()),
	}
	comment := &meta.VorbisComment{Vendor: "glidepace"}
	if o.Title != "" {
		comment.Tags = append(comment.Tags, [2]string{"TITLE", o.Title})
	}
	// The encoder computes the length, but takes 0 for a block without body.
	blocks := []*meta.Block{{Header: meta.Header{Type: meta.TypeVorbisComment, Length: 1}, Body: comment}}
	w := bufio.NewWriter(p)
	encoder, err := flac.NewEncoder(w, info, blocks...)
	if err != nil {
		return err
	}
	sum := md5.New()
	err = eachBlock(ctx, s, o, func(b block) error {
		sum.Write(b.pcm)
		for i := 0; i < len(b.samples); i += flacFrame {
			if err := encoder.WriteFrame(newFrame(b.samples[i:min(i+flacFrame, len(b.samples))])); err != nil {
				return err
			}
		}
		return nil
	})
	// The disk's own error: the encoder adds places in its code.
	if failed := w.Flush(); failed != nil {
		err = failed
	}
	if err != nil {
		return err
	}
	// The MD5 stands before the samples, so write the metadata again; its size
	// is the same. The encoder's own way takes the last frame for the smallest,
	// which it may not be.
	sum.Sum(info.MD5sum[:0])
	if _, err := p.Seek(0, io.SeekStart); err != nil {
		return err
	}
	_, err = flac.NewEncoder(p, info, blocks...)
	return err
}

// newFrame returns a frame for which the encoder finds the best predictor.
func newFrame(samples []int16) *frame.Frame {
	channel := &frame.Subframe{
		SubHeader: frame.SubHeader{Pred: frame.PredVerbatim},
		NSamples:  len(samples), Samples: make([]int32, len(samples)),
	}
	for i, x := range samples {
		channel.Samples[i] = int32(x)
	}
	return &frame.Frame{
		Header: frame.Header{
			HasFixedBlockSize: true, BlockSize: uint16(len(samples)),
			SampleRate: pacer.SampleRate, Channels: frame.ChannelsMono, BitsPerSample: 16,
		},
		Subframes: []*frame.Subframe{channel},
	}
}
