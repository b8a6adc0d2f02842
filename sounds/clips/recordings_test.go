package clips

import (
	"fmt"
	"maps"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"glidepace/sounds/voice"
)

var someCues = []voice.Cue{
	{Name: "breathe-in", Text: "Breathe in."}, {Name: "breathe-out", Text: "Breathe out."}, {Name: "count-3", Text: "Three"},
}

func TestFindRecordings(t *testing.T) {
	folder := t.TempDir()
	for _, name := range []string{
		"breathe-in.wav", "count-3.FLAC", // these are good
		"breathe-out.m4a",           // of no use
		"breathe-in.txt",            // beside a good one: still of no use
		"count-4.mp3",               // not needed now
		"Breath-In.ogg", "song.mp3", // named wrongly
		"readme.txt", "._count-3.wav", // no sounds
	} {
		write(t, filepath.Join(folder, name), nil)
	}
	files, notes, err := FindRecordings(folder, someCues, []string{"count-4"})
	if err != nil {
		t.Fatal(err)
	}
	want := map[string]string{
		"breathe-in": filepath.Join(folder, "breathe-in.wav"),
		"count-3":    filepath.Join(folder, "count-3.FLAC"),
	}
	if !maps.Equal(files, want) {
		t.Errorf("%v", files)
	}
	wantNotes := []string{
		folder + `: Breath-In.ogg is not named after a cue (did you mean "breathe-in"?)`,
		folder + ": song.mp3 is not named after a cue",
		folder + ": breathe-out.m4a is not used: save it as WAV, FLAC, MP3 or OGG",
	}
	if !slices.Equal(notes, wantNotes) {
		t.Errorf("%q", notes)
	}
}

func TestManyStrangeFiles(t *testing.T) {
	folder := t.TempDir()
	for n := range 100 {
		write(t, filepath.Join(folder, fmt.Sprintf("song %02d.mp3", n)), nil)
	}
	_, notes, err := FindRecordings(folder, someCues, nil)
	if err != nil || len(notes) != 6 || !strings.HasSuffix(notes[5], ": 95 more files are not used") {
		t.Errorf("%q, %v", notes, err)
	}
}

func TestNoFolderOfRecordings(t *testing.T) {
	for _, folder := range []string{filepath.Join(t.TempDir(), "none"), "clip.go"} {
		if _, _, err := FindRecordings(folder, someCues, nil); err == nil || !strings.Contains(err.Error(), folder) {
			t.Errorf("%v", err)
		}
	}
}

func TestReadFile(t *testing.T) {
	folder := t.TempDir()
	huge := filepath.Join(folder, "huge.wav")
	write(t, huge, nil)
	if err := os.Truncate(huge, largest+1); err != nil {
		t.Fatal(err)
	}
	if _, err := readFile(huge); err == nil || !strings.Contains(err.Error(), "larger than 32 MB") {
		t.Errorf("%v", err)
	}
	if _, err := readFile(folder); err == nil || !strings.Contains(err.Error(), "not a file") {
		t.Errorf("%v", err)
	}
	if _, err := readFile(filepath.Join(folder, "none.wav")); err == nil {
		t.Error("a file that is not there was read")
	}
}
