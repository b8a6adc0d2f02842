package main

import (
	"flag"
	"os"
	"path/filepath"
	"testing"

	"github.com/rogpeppe/go-internal/testscript"
)

var update = flag.Bool("update", false, "rewrite the files that scripts compare with")

func TestMain(m *testing.M) {
	testscript.Main(m, map[string]func(){"glidepace": main})
}

// The scripts drive the program as a person does; each is one behaviour.
func TestScripts(t *testing.T) {
	dir := filepath.Join("..", "..", "testdata", "scripts")
	scripts, err := filepath.Glob(filepath.Join(dir, "*.txtar"))
	if err != nil || len(scripts) == 0 {
		t.Fatalf("no scripts in %s (%v)", dir, err)
	}
	sessionFiles, err := filepath.Abs(filepath.Join("..", "..", "testdata", "sessions"))
	if err != nil {
		t.Fatal(err)
	}
	testscript.Run(t, testscript.Params{
		Dir:                 dir,
		RequireExplicitExec: true,
		RequireUniqueNames:  true,
		UpdateScripts:       *update,
		Setup: func(e *testscript.Env) error {
			e.Setenv("SESSIONS", sessionFiles)
			e.Setenv("TZ", "UTC")
			e.Setenv("HOME", filepath.Join(e.WorkDir, "home"))
			e.Setenv("XDG_STATE_HOME", filepath.Join(e.WorkDir, "state"))
			// Nothing to be heard, wherever the tests run.
			e.Setenv("PULSE_SERVER", "unix:"+filepath.Join(e.WorkDir, "no-server"))
			return os.MkdirAll(filepath.Join(e.WorkDir, "home"), 0o700)
		},
	})
}
