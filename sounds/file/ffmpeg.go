package file

import (
	"context"
	"fmt"
	"strings"
	"syscall"

	"glidepace/pacer"
	"glidepace/sessions/safefile"
	"glidepace/sounds/program"
)

// codec is what an installed ffmpeg makes for an extension.
type codec struct {
	ext, name, format string
	more              []string
}

// The bit rates are ample for one channel of speech and tones. MP3 has a
// variable one, because at a constant one its encoder lowers the level by half a
// decibel.
var codecs = []codec{
	{".mp3", "libmp3lame", "mp3", []string{"-q:a", "2", "-id3v2_version", "3"}}, // older players read only this one
	{".m4a", "aac", "ipod", []string{"-b:a", "96k", "-movflags", "+faststart"}},
	{".opus", "libopus", "opus", []string{"-b:a", "48k"}},
}

// encoder returns the writer of a codec, or an error where ffmpeg is missing.
func (c codec) encoder() (encoder, error) {
	if !program.Installed("ffmpeg") {
		return nil, fmt.Errorf("%s is encoded by ffmpeg, which is not installed: install it, or write .wav or .flac, which need nothing else", c.ext)
	}
	return c.write, nil
}

// write pipes all samples through ffmpeg into p.
func (c codec) write(ctx context.Context, p *safefile.File, s Source, o Options) error {
	args := []string{"-nostdin", "-hide_banner", "-loglevel", "error", "-xerror",
		"-f", "s16le", "-ar", fmt.Sprint(pacer.SampleRate), "-ac", "1", "-i", "pipe:0",
		"-c:a", c.name}
	args = append(args, c.more...)
	if o.Title != "" {
		args = append(args, "-metadata", "title="+o.Title)
	}
	args = append(args, "-f", c.format, "-y", "file:"+p.Temporary())

	ffmpeg := program.New(ctx, "ffmpeg", args...)
	in, err := ffmpeg.StdinPipe()
	if err != nil {
		return err
	}
	if err := ffmpeg.Start(); err != nil {
		return err
	}
	// If ffmpeg ends early the pipe breaks, and ffmpeg itself says why.
	broken := pcm(ctx, in, s, o)
	in.Close()
	failed, said := ffmpeg.Wait(), ffmpeg.Said()
	switch {
	case ctx.Err() != nil:
		return ctx.Err()
	case strings.Contains(said, "Unknown encoder"):
		return fmt.Errorf("the ffmpeg that is installed has no encoder %s: install a full one, or write .wav or .flac", c.name)
	case strings.Contains(said, syscall.ENOSPC.Error()), strings.Contains(said, "No space left on device"):
		return syscall.ENOSPC
	case failed != nil:
		return fmt.Errorf("ffmpeg: %w: %s", failed, said)
	}
	return broken
}
