package file

import (
	"bytes"
	"context"
	"crypto/md5"
	"encoding/binary"
	"errors"
	"io"
	"path/filepath"
	"runtime"
	"strings"
	"testing"

	"github.com/mewkiz/flac"

	"glidepace/pacer"
	"glidepace/sessions/safefile"
)

// lengths in frames: none, few, and around the ends of FLAC frames and blocks.
var lengths = []int{0, 1, 2, 3, 4, 5, 17, flacFrame - 1, flacFrame, flacFrame + 1, 33333,
	blockFrames - 1, blockFrames, blockFrames + 1, 5*blockFrames + 4321, 9 * blockFrames}

// One second of one channel at 48 kHz and 16 bits has a header of 44 bytes, a
// RIFF size of 96036, 96000 bytes of data and as many a second (RIFF/WAVE).
func TestWAVHeader(t *testing.T) {
	const want = "RIFF\x24\x77\x01\x00WAVEfmt \x10\x00\x00\x00\x01\x00\x01\x00" +
		"\x80\xbb\x00\x00\x00\x77\x01\x00\x02\x00\x10\x00data\x00\x77\x01\x00"
	if h, err := wavHeader(48000); err != nil || string(h) != want {
		t.Errorf("%q, %v; want %q", h, err, want)
	}
}

func TestWAVHasALimit(t *testing.T) {
	const most = (1<<32 - 1 - 36) / 2
	if _, err := wavHeader(most - 8); err != nil {
		t.Error(err)
	}
	if _, err := wavHeader(most + 1); err == nil || !strings.Contains(err.Error(), ".flac") {
		t.Errorf("too long: %v", err)
	}
}

func TestFilesHoldTheSamples(t *testing.T) {
	dir := t.TempDir()
	wav, flac := filepath.Join(dir, "out.wav"), filepath.Join(dir, "Out.FLAC")
	for _, n := range lengths {
		for _, name := range []string{wav, flac} {
			if err := Write(t.Context(), name, mixed(n), Options{Title: "Ruhig – left arm", Force: true}); err != nil {
				t.Fatal(err)
			}
		}
		h, err := wavHeader(n)
		if err != nil {
			t.Fatal(err)
		}
		if got := read(t, wav); !bytes.Equal(got, append(h, samples(mixed(n))...)) {
			t.Errorf("%d frames: %d bytes, not the header and samples", n, len(got))
		}
		checkFLAC(t, read(t, flac), mixed(n), "Ruhig – left arm")
	}
	wantFolder(t, dir, "Out.FLAC", "out.wav")
}

// The flac program makes 16.7 % of it.
func TestFLACOfASession(t *testing.T) {
	name := filepath.Join(t.TempDir(), "out.flac")
	minute := make(list, 60*pacer.SampleRate)
	session(t).Fill(minute, 0)
	if err := Write(t.Context(), name, minute, Options{}); err != nil {
		t.Fatal(err)
	}
	b := read(t, name)
	if share := float64(len(b)) / float64(2*len(minute)); share > 0.19 {
		t.Errorf("%.1f %% of the size of PCM", 100*share)
	}
	checkFLAC(t, b, minute, "")
}

// checkFLAC decodes a file with another implementation, which also checks
// the CRCs.
func checkFLAC(t *testing.T, b []byte, s Source, title string) {
	t.Helper()
	stream, err := flac.Parse(bytes.NewReader(b))
	if err != nil {
		t.Fatal(err)
	}
	if got := vorbisTitle(stream); got != title {
		t.Errorf("title %q, want %q", got, title)
	}
	if i := stream.Info; i.NSamples != uint64(s.Len()) || i.SampleRate != 48000 || i.NChannels != 1 || i.BitsPerSample != 16 {
		t.Errorf("%d frames: info %+v", s.Len(), i)
	}
	var pcm bytes.Buffer
	sum := stream.Info.MD5sum
	for {
		f, err := stream.ParseNext()
		if errors.Is(err, io.EOF) {
			break
		}
		if err != nil {
			t.Fatalf("%d frames: %v", s.Len(), err)
		}
		for _, x := range f.Subframes[0].Samples {
			pcm.Write(binary.LittleEndian.AppendUint16(nil, uint16(x)))
		}
	}
	if !bytes.Equal(pcm.Bytes(), samples(s)) {
		t.Errorf("%d frames: other samples", s.Len())
	}
	if sum != md5.Sum(pcm.Bytes()) {
		t.Errorf("%d frames: another MD5", s.Len())
	}
}

func TestProgress(t *testing.T) {
	for _, name := range []string{"a.wav", "a.flac"} {
		total := 3*blockFrames + 5
		last, calls := 0, 0
		err := Write(t.Context(), filepath.Join(t.TempDir(), name), mixed(total), Options{Progress: func(done, of int) {
			if done <= last || of != total {
				t.Errorf("%s: %d of %d after %d", name, done, of, last)
			}
			last = done
			calls++
		}})
		if err != nil || last != total || calls != 4 {
			t.Errorf("%s: %v, ends at %d of %d after %d calls", name, err, last, total, calls)
		}
	}
}

func TestCancelLeavesNothing(t *testing.T) {
	for _, name := range []string{"a.wav", "a.flac"} {
		for _, at := range []int{1, blockFrames + 1, 6 * blockFrames} { // the last when all is written
			dir := t.TempDir()
			ctx, cancel := context.WithCancel(t.Context())
			err := Write(ctx, filepath.Join(dir, name), mixed(6*blockFrames), Options{Progress: func(done, _ int) {
				if done >= at {
					cancel()
				}
			}})
			if !errors.Is(err, context.Canceled) {
				t.Errorf("%s: %v", name, err)
			}
			wantFolder(t, dir)
		}
	}
}

func TestErrorEndsTheWork(t *testing.T) {
	full := errors.New("full")
	used := 0
	err := eachBlock(t.Context(), mixed(20*blockFrames), Options{Progress: func(int, int) {}}, func(block) error {
		if used++; used == 3 {
			return full
		}
		return nil
	})
	if !errors.Is(err, full) || used != 3 {
		t.Errorf("%v after %d blocks", err, used)
	}
}

// A sound ten times as long holds no more memory at its end.
func TestMemoryDoesNotGrow(t *testing.T) {
	held := func(name string, frames int) (bytes uint64) {
		err := Write(t.Context(), filepath.Join(t.TempDir(), name), silence(frames), Options{Progress: func(done, total int) {
			if done == total {
				var m runtime.MemStats
				runtime.GC()
				runtime.ReadMemStats(&m)
				bytes = m.HeapAlloc
			}
		}})
		if err != nil {
			t.Fatal(err)
		}
		return bytes
	}
	for _, name := range []string{"a.wav", "a.flac"} {
		short, long := held(name, 10*blockFrames), held(name, 100*blockFrames)
		if long > short+short/4 {
			t.Errorf("%s: %d bytes and %d", name, short, long)
		}
	}
}

func TestExtensions(t *testing.T) {
	dir := t.TempDir()
	for _, name := range []string{"a", "a.ogg", "wav", "a.wav.txt"} {
		err := Write(t.Context(), filepath.Join(dir, name), mixed(1), Options{})
		if _, ok := errors.AsType[UnknownExtension](err); !ok {
			t.Fatalf("%s: %v", name, err)
		}
		for _, ext := range Extensions() {
			if !strings.Contains(err.Error(), ext) {
				t.Errorf("%s: %v, without %s", name, err, ext)
			}
		}
	}
	wantFolder(t, dir)
}

func TestWithoutFfmpeg(t *testing.T) {
	t.Setenv("PATH", "")
	dir := t.TempDir()
	for _, c := range codecs {
		name := filepath.Join(dir, "a"+c.ext)
		for _, err := range []error{Check(name, false), Write(t.Context(), name, mixed(1), Options{})} {
			if err == nil {
				t.Fatalf("%s: no error", c.ext)
			}
			for _, word := range []string{c.ext, "ffmpeg", "install", ".wav", ".flac"} {
				if !strings.Contains(err.Error(), word) {
					t.Errorf("%s: %v, without %q", c.ext, err, word)
				}
			}
		}
	}
	wantFolder(t, dir)
}

// What is beside a sound comes with it or not at all.
func TestFilesBeside(t *testing.T) {
	for _, cancelled := range []bool{false, true} {
		dir := t.TempDir()
		captions, err := safefile.Create(filepath.Join(dir, "a.vtt"), false)
		if err != nil {
			t.Fatal(err)
		}
		if _, err := captions.Write([]byte("WEBVTT\n")); err != nil {
			t.Fatal(err)
		}
		ctx, cancel := context.WithCancel(t.Context())
		defer cancel()
		if cancelled {
			cancel()
		}
		err = Write(ctx, filepath.Join(dir, "a.wav"), mixed(10), Options{Beside: []*safefile.File{captions}})
		captions.Discard()
		if cancelled {
			if !errors.Is(err, context.Canceled) {
				t.Error(err)
			}
			wantFolder(t, dir)
			continue
		}
		if err != nil {
			t.Error(err)
		}
		wantFolder(t, dir, "a.vtt", "a.wav")
		if got := string(read(t, filepath.Join(dir, "a.vtt"))); got != "WEBVTT\n" {
			t.Errorf("captions %q", got)
		}
	}
}
