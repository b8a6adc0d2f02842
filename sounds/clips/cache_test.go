package clips

import (
	"bytes"
	"os"
	"path/filepath"
	"slices"
	"testing"

	"glidepace/sounds/voice"
)

func TestCache(t *testing.T) {
	c := cache{filepath.Join(t.TempDir(), "a", "b")}
	clip := voice.Clip{0, 1, -1, 32767, -32768, 0}
	path := c.path("recording", []byte("a source"))
	if got := c.get(path); got != nil {
		t.Errorf("%v before anything was put", got)
	}
	c.put(path, clip)
	if got := c.get(path); !slices.Equal(got, clip) {
		t.Errorf("%v, want %v", got, clip)
	}
	if other := c.path("spoken", []byte("a source")); other == path {
		t.Error("two kinds have one path")
	}
	entries, err := os.ReadDir(c.folder)
	if err != nil || len(entries) != 1 {
		t.Errorf("%v, %v: want one file", entries, err)
	}

	good, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	for n := range good {
		write(t, path, good[:n])
		if got := c.get(path); got != nil {
			t.Fatalf("cut to %d bytes: %v", n, got)
		}
		wrong := bytes.Clone(good)
		wrong[n] ^= 0x10
		write(t, path, wrong)
		if got := c.get(path); got != nil {
			t.Fatalf("byte %d wrong: %v", n, got)
		}
	}
	c.put(path, clip)
	if got := c.get(path); !slices.Equal(got, clip) {
		t.Errorf("%v, want %v", got, clip)
	}
}

// What is kept is a WAV file that anything plays: one second of one channel at
// 48 kHz and 16 bits has 96000 bytes of data behind a header of 44 (RIFF/WAVE).
func TestCacheIsWAV(t *testing.T) {
	c := cache{t.TempDir()}
	path := c.path("recording", nil)
	clip := make(voice.Clip, rate)
	for i, x := range sine(440, rate, 1) {
		clip[i] = int16(32767 * x)
	}
	c.put(path, clip)
	file, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	// 12 more are the checksum's.
	want := "RIFF\x30\x77\x01\x00WAVEfmt \x10\x00\x00\x00\x01\x00\x01\x00" +
		"\x80\xbb\x00\x00\x00\x77\x01\x00\x02\x00\x10\x00data\x00\x77\x01\x00"
	if !bytes.HasPrefix(file, []byte(want)) {
		t.Errorf("%q", file[:44])
	}
	samples, err := decode(t.Context(), file)
	if err != nil {
		t.Fatal(err)
	}
	checkA4(t, samples, 1)
}
