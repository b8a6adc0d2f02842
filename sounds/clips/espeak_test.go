package clips

import (
	"bytes"
	"context"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"runtime"
	"slices"
	"strings"
	"testing"
	"time"
)

// The test's own program stands in for espeak-ng where it has its name.
func TestMain(m *testing.M) {
	if strings.TrimSuffix(filepath.Base(os.Args[0]), ".exe") == espeakName {
		os.Exit(fakeEspeak(os.Args[1:]))
	}
	os.Exit(m.Run())
}

const (
	fakeConduct = "FAKE_ESPEAK"     // what it does instead of speaking
	fakeLog     = "FAKE_ESPEAK_LOG" // where it writes down what it is asked
)

// fakeEspeak "speaks" a text as a tone that is the longer and the lower, the
// longer the text is.
func fakeEspeak(args []string) int {
	if slices.Equal(args, []string{"--version"}) {
		fmt.Println("eSpeak NG text-to-speech: fake")
		return 0
	}
	text, _ := io.ReadAll(os.Stdin)
	if name := os.Getenv(fakeLog); name != "" {
		f, err := os.OpenFile(name, os.O_APPEND|os.O_CREATE|os.O_WRONLY, 0o600)
		if err != nil {
			return 1
		}
		fmt.Fprintf(f, "%s <%s\n", strings.Join(args, " "), text)
		f.Close()
	}
	samples := sine(1000-10*float64(len(text)), 22050, 0.2+0.01*float64(len(text)))
	switch os.Getenv(fakeConduct) {
	case "fail":
		fmt.Fprintln(os.Stderr, "Error: The specified espeak-ng voice does not exist.")
		return 1
	case "write nothing":
		return 0
	case "write text":
		fmt.Println("Three.")
		return 0
	case "write on":
		for err := error(nil); err == nil; {
			_, err = os.Stdout.Write(wav(samples, 22050))
		}
	case "hang":
		time.Sleep(time.Minute)
	case "silence":
		samples = make([]float64, 22050)
	}
	if _, err := os.Stdout.Write(wav(samples, 22050)); err != nil {
		return 1
	}
	return 0
}

// installEspeak makes the fake the only program on the path. asked returns what it
// has been asked to say.
func installEspeak(t *testing.T, conduct string) (asked func() []string) {
	t.Helper()
	own, err := os.Executable()
	if err != nil {
		t.Fatal(err)
	}
	folder := t.TempDir()
	program := filepath.Join(folder, espeakName)
	if runtime.GOOS == "windows" {
		program += ".exe"
	}
	if err := os.Symlink(own, program); err != nil {
		t.Fatal(err)
	}
	log := filepath.Join(folder, "log")
	t.Setenv("PATH", folder)
	t.Setenv(fakeConduct, conduct)
	t.Setenv(fakeLog, log)
	t.Setenv("GORACE", "atexit_sleep_ms=0") // else each end of the fake takes a second under -race
	return func() []string {
		file, err := os.ReadFile(log)
		if err != nil {
			return nil
		}
		lines := strings.Split(strings.TrimSpace(string(file)), "\n")
		slices.Sort(lines)
		return lines
	}
}

// noEspeak makes a world without it.
func noEspeak(t *testing.T) { t.Setenv("PATH", t.TempDir()) }

func TestEspeak(t *testing.T) {
	asked := installEspeak(t, "")
	e, err := findEspeak(t.Context(), "en-gb")
	if err != nil || e == nil {
		t.Fatal(e, err)
	}
	if !strings.Contains(e.source("Three"), "fake") {
		t.Errorf("the version is not in %q", e.source("Three"))
	}
	file, err := e.say(t.Context(), "Zählen – three")
	if err != nil {
		t.Fatal(err)
	}
	if !bytes.HasPrefix(file, []byte("RIFF")) {
		t.Errorf("it begins with %q", file[:min(4, len(file))])
	}
	if got, want := asked(), []string{"-b 1 -s 150 -v en-gb --stdout --stdin <Zählen – three"}; !slices.Equal(got, want) {
		t.Errorf("%q, want %q", got, want)
	}
}

func TestEspeakIsStopped(t *testing.T) {
	asked := installEspeak(t, "hang")
	e, err := findEspeak(t.Context(), "en")
	if err != nil {
		t.Fatal(err)
	}
	ctx, cancel := context.WithCancel(t.Context())
	go func() { // as soon as it hangs
		for asked() == nil {
			time.Sleep(time.Millisecond)
		}
		cancel()
	}()
	if _, err := e.say(ctx, "Three"); err != context.Canceled {
		t.Errorf("%v, want %v", err, context.Canceled)
	}
}
