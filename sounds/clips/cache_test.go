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
