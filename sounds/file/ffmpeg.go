package file

import (
	"bytes"
	"context"
	"encoding/binary"
	"errors"
	"fmt"
	"io"
	"os"
	"strings"
	"syscall"
	"time"

	"glidepace/pacer"
	"glidepace/sessions/safefile"
	"glidepace/sounds/program"
)

// ffmpegTime is how long ffmpeg may be at work without reading more, or without an end
// once it has everything. It is a variable for tests.
var ffmpegTime = 30 * time.Second

// codec is what an installed ffmpeg makes for an extension.
type codec struct {
	ext, name, format string
	more              []string
	// length returns the frames that a file says it has, from its first and last
	// bytes; 0 if it is not of this kind.
	length func(head, tail []byte) uint64
	speech []string // in addition, where it is speech alone
}

// The bit rates are ample for one channel of speech and tones. MP3 has a
// variable one, because at a constant one its encoder lowers the level by half a
// decibel. Speech alone needs less: a page carries two minutes of it. At this rate the
// words of espeak-ng keep their level within half a decibel up to 8 kHz.
var codecs = []codec{
	{".mp3", "libmp3lame", "mp3", []string{"-q:a", "2", "-id3v2_version", "3"}, mp3Length, []string{"-ar", "24000", "-q:a", "9"}}, // older players read only this one
	{".m4a", "aac", "ipod", []string{"-b:a", "96k", "-movflags", "+faststart"}, m4aLength, nil},
	{".opus", "libopus", "opus", []string{"-b:a", "48k"}, opusLength, nil},
}

// An MP3 file has the number of its frames of 1,152 samples in its first frame, if its
// bit rate varies; at half the sample rate they have half as many.
func mp3Length(head, _ []byte) uint64 {
	return 1152 * uint64(binary.BigEndian.Uint32(after(head, "Xing", 4)))
}

// An M4A file has ticks a second and how many it lasts in its movie header (ISO
// 14496-12, 8.2.2).
func m4aLength(head, _ []byte) uint64 {
	t := after(head, "mvhd", 12)
	rate, ticks := binary.BigEndian.Uint32(t), binary.BigEndian.Uint32(t[4:])
	return uint64(ticks) * pacer.SampleRate / uint64(max(1, rate))
}

// The last page of an Ogg file has the number of its last sample (RFC 3533, section 6),
// for Opus always at 48 kHz (RFC 7845, section 4).
func opusLength(head, tail []byte) uint64 {
	if !bytes.Contains(head, []byte("OpusHead")) {
		return 0
	}
	at := max(0, bytes.LastIndex(tail, []byte("OggS")))
	return binary.LittleEndian.Uint64(after(tail[at:], "OggS", 2))
}

// after returns the eight bytes that begin so many after a mark, zeros if there are
// none.
func after(b []byte, mark string, skip int) []byte {
	_, rest, _ := bytes.Cut(b, []byte(mark))
	if len(rest) < skip+8 {
		return make([]byte, 8)
	}
	return rest[skip:]
}

// look returns an error if a file does not hold so many frames of this kind.
func (c codec) look(name string, frames int) error {
	f, err := os.Open(name)
	if errors.Is(err, os.ErrNotExist) {
		return errors.New("ffmpeg has ended without an error, but has written nothing")
	} else if err != nil {
		return err
	}
	defer f.Close()
	info, err := f.Stat()
	if err != nil {
		return err
	}
	const most = 64 << 10 // the largest page of Ogg, and more than any header
	head, tail := make([]byte, min(most, info.Size())), make([]byte, min(most, info.Size()))
	_, errHead := io.ReadFull(f, head)
	_, errTail := f.ReadAt(tail, info.Size()-int64(len(tail)))
	if err := errors.Join(errHead, errTail); err != nil {
		return err
	}
	// An encoder adds a little at both ends.
	const less, more = pacer.SampleRate / 50, pacer.SampleRate / 4
	if n := int(min(c.length(head, tail), 1<<40)); n < frames-less || n > frames+more {
		return fmt.Errorf("ffmpeg has ended without an error, but what it wrote is not %s with %d s of sound: install another one, or write .wav or .flac",
			c.ext, frames/pacer.SampleRate)
	}
	return nil
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
	if o.Speech {
		args = append(args, c.speech...)
	}
	if o.Title != "" {
		args = append(args, "-metadata", "title="+o.Title)
	}
	args = append(args, "-f", c.format, "-y", "file:"+p.Temporary())

	// Encoded, sound is smaller than it was.
	limits := program.Limits{Time: ffmpegTime, File: p.Temporary(), FileSize: int64(2*s.Len() + 1<<20)}
	ffmpeg := program.New(ctx, limits, "ffmpeg", args...)
	in, err := ffmpeg.Input()
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
		return fmt.Errorf("ffmpeg: %w", failed)
	case broken != nil:
		return fmt.Errorf("ffmpeg has ended early: %w", broken)
	}
	return c.look(p.Temporary(), s.Len())
}
