// Package file writes sound into files. The extension of a name says what is
// written: WAV and FLAC by this package; MP3, AAC in an M4A file and Opus by an
// installed ffmpeg.
//
// A file appears under its name complete or not at all; see package safefile.
//
// Sound is computed and written a block at a time, so memory does not grow with
// its length.
package file

import (
	"context"
	"encoding/binary"
	"fmt"
	"io"
	"path/filepath"
	"slices"
	"strings"

	"glidepace/sessions/safefile"
)

// Source is mono sound at pacer.SampleRate.
type Source interface {
	// Len returns the number of frames.
	Len() int
	// Fill fills dst with the samples of the frames from at on, none of them
	// beyond Len.
	Fill(dst []int16, at int)
}

// Options say how a file is written.
type Options struct {
	Title  string // for the player to show; may be empty
	Speech bool   // it is speech alone, which MP3 then packs closer
	Force  bool   // replace a file of the same name

	// Progress is told how many of all frames have been written, more often
	// than once a second. It may be nil.
	Progress func(done, total int)

	// Beside are files that belong to the sound and are committed with it.
	Beside []*safefile.File
}

// UnknownExtension is the error for a name whose extension is not one of
// Extensions.
type UnknownExtension struct{ Name string }

func (e UnknownExtension) Error() string {
	return fmt.Sprintf("%s: sound is written as %s: use one of these extensions", e.Name, strings.Join(extensions, ", "))
}

// encoder writes all of a source into a pending file.
type encoder func(ctx context.Context, p *safefile.File, s Source, o Options) error

var extensions = []string{".wav", ".flac", ".mp3", ".m4a", ".opus"}

// Extensions returns the known extensions, in lower case and with their dots.
func Extensions() []string { return slices.Clone(extensions) }

// byExtension finds the encoder for a name.
func byExtension(name string) (encoder, error) {
	ext := strings.ToLower(filepath.Ext(name))
	switch ext {
	case ".wav":
		return writeWAV, nil
	case ".flac":
		return writeFLAC, nil
	}
	for _, c := range codecs {
		if c.ext == ext {
			return c.encoder()
		}
	}
	return nil, UnknownExtension{name}
}

// Check says why Write could not begin: the extension is not known, ffmpeg is
// missing, or the name is taken. It is quick and returns nil if all is well.
func Check(name string, force bool) error {
	if _, err := byExtension(name); err != nil {
		return err
	}
	return safefile.Check(name, force)
}

// Write writes s into the named file and commits the files beside it at the same
// moment. After an error the folder is as it was; the caller discards the files
// beside.
func Write(ctx context.Context, name string, s Source, o Options) error {
	encode, err := byExtension(name)
	if err != nil {
		return err
	}
	p, err := safefile.Create(name, o.Force)
	if err != nil {
		return err
	}
	defer p.Discard()
	if o.Progress == nil {
		o.Progress = func(int, int) {}
	}
	if err := encode(ctx, p, s, o); err != nil {
		return fmt.Errorf("%s: %w", name, err)
	}
	if err := ctx.Err(); err != nil {
		return fmt.Errorf("%s: %w", name, err)
	}
	return safefile.Commit(append([]*safefile.File{p}, o.Beside...)...)
}

// block is a run of frames.
type block struct {
	samples []int16
	pcm     []byte // the samples, low byte first
}

const blockFrames = 16 * flacFrame // 1.4 s

// eachBlock calls use with all samples of s, a block at a time. It ends at the
// first error of use, or when ctx does.
func eachBlock(ctx context.Context, s Source, o Options, use func(block) error) error {
	whole := block{make([]int16, blockFrames), make([]byte, 2*blockFrames)}
	for at := 0; at < s.Len(); at += blockFrames {
		if err := ctx.Err(); err != nil {
			return err
		}
		n := min(blockFrames, s.Len()-at)
		b := block{whole.samples[:n], whole.pcm[:2*n]}
		s.Fill(b.samples, at)
		for i, x := range b.samples {
			binary.LittleEndian.PutUint16(b.pcm[2*i:], uint16(x))
		}
		if err := use(b); err != nil {
			return err
		}
		o.Progress(at+n, s.Len())
	}
	return nil
}

// pcm writes all samples of s to w, 16 bits each, low byte first.
func pcm(ctx context.Context, w io.Writer, s Source, o Options) error {
	return eachBlock(ctx, s, o, func(b block) error {
		_, err := w.Write(b.pcm)
		return err
	})
}
