package clips

import (
	"context"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"time"

	"glidepace/sounds/program"
)

const (
	espeakName  = "espeak-ng"
	espeakSpeed = 150              // words a minute: slower than its own 175, for older listeners
	espeakTime  = 10 * time.Second // for one cue; it needs less than a tenth of a second
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

// say returns the WAV file of a text.
func (e *espeak) say(ctx context.Context, text string) ([]byte, error) {
	folder, err := os.MkdirTemp("", "glidepace-voice-")
	if err != nil {
		return nil, fmt.Errorf("no place for what espeak-ng says: %w", err)
	}
	defer os.RemoveAll(folder)
	name := filepath.Join(folder, "said.wav")
	// -b 1 is UTF-8.
	if _, err := e.run(ctx, text, "-b", "1", "-s", strconv.Itoa(espeakSpeed), "-v", e.voice, "-w", name, "--stdin"); err != nil {
		return nil, err
	}
	file, err := readFile(name)
	if errors.Is(err, os.ErrNotExist) {
		err = errors.New("it wrote nothing") // and says that all is well
	}
	return file, err
}

// run runs espeak-ng and returns what it writes to its standard output.
func (e *espeak) run(ctx context.Context, input string, args ...string) ([]byte, error) {
	ctx, cancel := context.WithTimeoutCause(ctx, espeakTime, fmt.Errorf("no answer in %v", espeakTime))
	defer cancel()
	p := program.New(ctx, espeakName, args...)
	p.Stdin = strings.NewReader(input)
	out, err := p.Output()
	switch {
	case ctx.Err() != nil:
		return nil, context.Cause(ctx)
	case err != nil:
		if said := p.Said(); said != "" {
			err = fmt.Errorf("%w: %.200s", err, said)
		}
		return nil, err
	}
	return out, nil
}
