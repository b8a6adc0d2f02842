package clips

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"regexp"
	"strconv"
	"strings"
	"time"
	"unicode"

	"glidepace/sounds/program"
)

const (
	espeakName  = "espeak-ng"
	espeakSpeed = 150              // words a minute: slower than its own 175, for older listeners
	espeakTime  = 10 * time.Second // for one cue; it needs less than a tenth of a second
	espeakMost  = 4 << 20          // bytes; 30 s, the longest clip, need 1.3 million
)

// espeak speaks with the program espeak-ng.
type espeak struct {
	version string
	voice   string
}

// findEspeak returns nil where espeak-ng is not installed.
func findEspeak(ctx context.Context, voice string) (*espeak, error) {
	if !program.Installed(espeakName) {
		return nil, nil
	}
	e := &espeak{voice: voice}
	out, err := e.run(ctx, "", "--version")
	if err != nil {
		return nil, err
	}
	e.version = string(out)
	return e, nil
}

// source contains everything that the sound of a text depends on.
func (e *espeak) source(text string) string {
	return fmt.Sprintf("%q %q %d %q", e.version, e.voice, espeakSpeed, text)
}

// pause is where espeak-ng pauses inside a text.
var pause = regexp.MustCompile(`[,;:.!?]\s`)

// estimate returns about how many seconds espeak-ng takes to say a text, 0 if it has
// no words. Half of the library's texts are within 6 % of it, and all within half a
// second (TestRealSeconds).
func estimate(text string) float64 {
	letters := 0
	for _, c := range text {
		switch {
		case unicode.IsLetter(c):
			letters++
		case unicode.IsDigit(c):
			letters += 4 // as spoken
		}
	}
	if letters == 0 {
		return 0
	}
	return 0.155 + 0.068*float64(letters) + 0.37*float64(len(pause.FindAllString(strings.TrimSpace(text), -1)))
}

// say returns the WAV file of a text.
func (e *espeak) say(ctx context.Context, text string) ([]byte, error) {
	// -b 1 is UTF-8. What it writes to a pipe is no longer than it should be, and
	// needs no place on a disk.
	file, err := e.run(ctx, text, "-b", "1", "-s", strconv.Itoa(espeakSpeed), "-v", e.voice, "--stdout", "--stdin")
	switch {
	case err != nil:
		return nil, err
	case len(file) == 0:
		return nil, errors.New("it wrote nothing") // and says that all is well
	case !bytes.HasPrefix(file, []byte("RIFF")):
		return nil, errors.New("it wrote something else than sound")
	}
	return file, nil
}

// run runs espeak-ng and returns what it writes to its standard output.
func (e *espeak) run(ctx context.Context, input string, args ...string) ([]byte, error) {
	p := program.New(ctx, program.Limits{Time: espeakTime, Output: espeakMost}, espeakName, args...)
	p.Stdin = strings.NewReader(input)
	return p.Output()
}
