// Package file writes sound into files.
//
// The extension of a name says what is written: WAV and FLAC by this package,
// MP3, AAC in an M4A file and Opus by an ffmpeg that is installed.
//
// # Safe
//
// A file appears under its name complete, or not at all: it is written under a
// temporary name in the same folder, brought to the disk, and takes its name
// last. An error, a full disk or a cancelled context leave nothing behind and
// the file that was there as it was. See package safefile.
//
// # Fast
//
// A Source gives the samples of any frame, so blocks of frames are computed on
// several cores and written in their order: the file is the same on one core or
// four, and memory does not grow with its length.
package file

import (
	"context"
	"fmt"
	"io"
	"path/filepath"
	"slices"
	"strings"

	"glidepace/sessions/safefile"
)

// Source is mono sound at pacer.SampleRate, whose samples are a pure function
// of their frame number.
type Source interface {
	// Len returns the number of frames.
	Len() int
	// Fill writes the samples of the frames from at on over all of dst, which
	// ends at Len or before. It may be called by several goroutines at a time.
	Fill(dst []int16, at int)
}

// Options say how a file is written.
type Options struct {
	Title string // of the sound, for the player to show; none if empty
	Force bool   // write over a file of the same name

	// Progress is told how many frames of all have been written, more often
	// than once a second. It may be nil.
	Progress func(done, total int)

	// Beside are files that belong to the sound and are completed with it.
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

// extensions are in the order in which they are named to people.
var extensions = []string{".wav", ".flac", ".mp3", ".m4a", ".opus"}

// Extensions returns the extensions that are known: each in lower case, with
// its dot.
func Extensions() []string { return slices.Clone(extensions) }

// byExtension finds the encoder for a name. It is an error where that needs an
// ffmpeg and none is installed.
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

// Check says why Write could not begin, nil if it could: the extension is not
// known, ffmpeg is missing, or the name is taken. It is quick, and worth
// asking before a Source is made ready.
func Check(name string, force bool) error {
	if _, err := byExtension(name); err != nil {
		return err
	}
	return safefile.Check(name, force)
}

// Write writes s into the named file, by its extension, and completes the
// files beside it in the same moment. Where it returns an error, nothing has
// been left in the folder and nothing changed there; the files beside are the
// caller's to discard.
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

// pcm writes all samples of s to w, 16 bits each, low byte first.
func pcm(ctx context.Context, w io.Writer, s Source, o Options) error {
	return inOrder(ctx, s, func(b *block) error {
		if _, err := w.Write(b.pcm); err != nil {
			return err
		}
		o.Progress(b.at+len(b.samples), s.Len())
		return nil
	})
}
