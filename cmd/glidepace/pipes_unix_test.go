//go:build unix

package main

import (
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"syscall"
	"testing"

	"glidepace/cmd/glidepace/internal/console"
)

// A pipe in the place of a file would keep the program waiting for ever.
func TestPipesAreNoFiles(t *testing.T) {
	t.Chdir(t.TempDir())
	t.Setenv("XDG_STATE_HOME", t.TempDir())
	const good = "good.yaml"
	err := os.WriteFile(good, []byte("glidepace: 1\ntitle: Good\npatient: K-204\nbreath: {rate: 8}\nexercises: [{glide: median-wrist, side: right, reps: 5}]\n"), 0o600)
	if err == nil {
		err = syscall.Mkfifo("pipe.yaml", 0o600)
	}
	if err != nil {
		t.Fatal(err)
	}
	for _, args := range []string{
		"check pipe.yaml", "timeline pipe.yaml", "pace pipe.yaml --yes", "pace good.yaml --yes --buzzer pipe.yaml", "render pipe.yaml -o x.wav",
		"tune pipe.yaml --from 14", "diary enter pipe.yaml --from x.csv", "diary enter good.yaml --from pipe.yaml",
		"box wiring pipe.yaml", "box service pipe.yaml", "box run pipe.yaml", "box off pipe.yaml",
		"box load pipe.yaml --to . --weeks 2 --into clinic.db", "box load good.yaml --to . --weeks 2 --box pipe.yaml --into clinic.db",
	} {
		var said strings.Builder
		code := run(strings.Fields(args), strings.NewReader(""), &said, &said)
		if code != console.ExitUsage || !strings.Contains(said.String(), "pipe.yaml is not a file but a device or a pipe") {
			t.Errorf("%s: exit code %d: %s", args, code, &said)
		}
	}
	for _, name := range []string{"loan.yaml", "box.yaml", "session.yaml"} {
		card := t.TempDir()
		if err := os.WriteFile(filepath.Join(card, "box.yaml"), []byte("glidepace-box: 1\nname: Box 3\n"), 0o600); err != nil {
			t.Fatal(err)
		}
		os.Remove(filepath.Join(card, name))
		if err := syscall.Mkfifo(filepath.Join(card, name), 0o600); err != nil {
			t.Fatal(err)
		}
		for _, args := range []string{"box back --into clinic.db --from ", "box load good.yaml --weeks 2 --into clinic.db --to "} {
			var said strings.Builder
			code := run(strings.Fields(args+card), strings.NewReader(""), &said, &said)
			if code != console.ExitFailed || !strings.Contains(said.String(), fmt.Sprintf("%s is not a file", filepath.Join(card, name))) {
				t.Errorf("%s: exit code %d: %s", args, code, &said)
			}
		}
	}
}
