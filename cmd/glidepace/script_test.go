package main

import (
	"flag"
	"fmt"
	"os"
	"path/filepath"
	"testing"
	"time"

	"github.com/rogpeppe/go-internal/testscript"
)

var update = flag.Bool("update", false, "rewrite the files that scripts compare with")

func TestMain(m *testing.M) {
	testscript.Main(m, map[string]func(){"glidepace": main, "sleep": sleep, "ls": ls})
}

// Scripts see no programs but glidepace and these two.

func ls() {
	entries, err := os.ReadDir(os.Args[1])
	if err != nil {
		panic(err)
	}
	for _, e := range entries {
		fmt.Println(e.Name())
	}
}

func sleep() {
	d, err := time.ParseDuration(os.Args[1] + "s")
	if err != nil {
		panic(err)
	}
	time.Sleep(d)
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
			e.Setenv("XDG_CACHE_HOME", filepath.Join(e.WorkDir, "cache"))
			// The program alone, wherever the tests run: no espeak-ng, no
			// ffmpeg, nothing to be heard.
			e.Setenv("PATH", filepath.SplitList(e.Getenv("PATH"))[0])
			e.Setenv("PULSE_SERVER", "unix:"+filepath.Join(e.WorkDir, "no-server"))
			return os.MkdirAll(filepath.Join(e.WorkDir, "home"), 0o700)
		},
	})
}
