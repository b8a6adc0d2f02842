package clips

import (
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strings"

	"github.com/agext/levenshtein"

	"glidepace/sessions/safefile"
	"glidepace/sounds/voice"
)

// extensions are those of recordings, in lower case.
var extensions = []string{".wav", ".flac", ".mp3", ".ogg"}

// FindRecordings returns the files in a folder that are recordings of cues, by
// name of the cue, and notes about files that may have been meant as such.
// known are the names of cues that are not needed now.
func FindRecordings(folder string, cues []voice.Cue, known []string) (files map[string]string, notes []string, err error) {
	entries, err := os.ReadDir(folder)
	if err != nil {
		return nil, nil, fmt.Errorf("folder of recordings: %w; give the folder with the recordings of the cues", err)
	}
	names := slices.Clone(known)
	needed := map[string]bool{}
	for _, c := range cues {
		names = append(names, c.Name)
		needed[c.Name] = true
	}
	files = map[string]string{}
	var strange, other []string
	for _, e := range entries {
		ext := filepath.Ext(e.Name())
		name := strings.TrimSuffix(e.Name(), ext)
		isRecording := slices.Contains(extensions, strings.ToLower(ext))
		switch {
		case strings.HasPrefix(name, "."):
			// A system's own, such as the "._" files that a Mac leaves.
		case isRecording && needed[name]:
			if first, ok := files[name]; ok {
				return nil, nil, fmt.Errorf("%s and %s are both recordings of %q: keep one", first, e.Name(), name)
			}
			files[name] = filepath.Join(folder, e.Name())
		case isRecording && !slices.Contains(names, name):
			strange = append(strange, fmt.Sprintf("%s is not named after a cue%s", e.Name(), nearest(name, names)))
		case !isRecording && needed[name]:
			other = append(other, e.Name())
		}
	}
	for _, o := range other {
		if files[strings.TrimSuffix(o, filepath.Ext(o))] == "" {
			strange = append(strange, o+" is not used: save it as WAV, FLAC, MP3 or OGG")
		}
	}
	const most = 5
	if more := len(strange) - most; more > 0 {
		strange = append(strange[:most], fmt.Sprintf("%d more files are not used", more))
	}
	for _, s := range strange {
		notes = append(notes, folder+": "+s)
	}
	return files, notes, nil
}

// nearest asks whether a similar one of names is meant, if there is one.
func nearest(name string, names []string) string {
	if len(name) > 80 {
		return ""
	}
	name = strings.ToLower(name)
	best, least := "", len(name)
	for _, n := range names {
		if d := levenshtein.Distance(name, n, nil); d < least && 2*d <= len(n) {
			best, least = n, d
		}
	}
	if best == "" {
		return ""
	}
	return fmt.Sprintf(" (did you mean %q?)", best)
}

// readFile reads a recording. Its errors do not name the file.
func readFile(path string) ([]byte, error) {
	file, err := safefile.Read(path, largest)
	switch {
	case errors.As(err, new(safefile.Refusal)):
		return nil, errors.New("is not a file: put a recording in its place")
	case errors.As(err, new(*safefile.TooLargeError)):
		return nil, fmt.Errorf("is larger than %d MB: cut it to the words", largest>>20)
	}
	return file, err
}
