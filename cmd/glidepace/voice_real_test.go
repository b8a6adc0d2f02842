//go:build real

package main

import (
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"glidepace/sounds/out/outtest"
)

// A voice that takes minutes to make does not keep the session away: it begins without
// the voice and says so, the clips that are made meanwhile are kept, and nothing goes
// on after it.
func TestRealSlowVoice(t *testing.T) {
	real, err := exec.LookPath("espeak-ng")
	if err != nil {
		t.Fatal(err)
	}
	bin, ids, cache := t.TempDir(), t.TempDir(), t.TempDir()
	script := "#!/bin/sh\n[ $1 = --version ] || { echo > " + ids + "/$$; sleep 3; }\nexec " + real + ` "$@"` + "\n"
	if err := os.WriteFile(filepath.Join(bin, "espeak-ng"), []byte(script), 0o755); err != nil {
		t.Fatal(err)
	}
	t.Setenv("PATH", bin+":"+os.Getenv("PATH"))
	t.Setenv("XDG_CACHE_HOME", cache)
	file, tl := session(t, lively)
	cmd := outtest.Start(t).Command(program(t), "pace", file, "--yes", "--screen", "lines")
	cmd.Env = append(cmd.Env, "XDG_STATE_HOME="+t.TempDir())
	began := time.Now()
	said, err := cmd.CombinedOutput()
	if err != nil || !strings.Contains(string(said), "without the voice, which takes more than 5s to make") {
		t.Errorf("%v\n%s", err, said)
	}
	if late := time.Since(began).Seconds() - tl.Duration; late > 15 {
		t.Errorf("the session took %.0f s longer than it lasts", late)
	}
	clips, err := filepath.Glob(filepath.Join(cache, "glidepace", "voice", "*.clip"))
	if err != nil || len(clips) < 5 {
		t.Errorf("%d clips are kept, %v", len(clips), err)
	}
	begun, err := os.ReadDir(ids)
	if err != nil || len(begun) < len(clips) {
		t.Fatalf("%d have begun, %v", len(begun), err)
	}
	for _, e := range begun {
		line, _ := os.ReadFile(filepath.Join("/proc", e.Name(), "cmdline"))
		if strings.Contains(string(line), "espeak-ng") {
			t.Errorf("process %s is still there", e.Name())
		}
	}
	t.Logf("%d clips of %d are kept", len(clips), len(begun))
}

// The longest session file, of an hour and with as many texts as there may be, is
// checked in under a second and 100 MB though its voice has never been made.
func TestRealCheckOfTheLongest(t *testing.T) {
	text := "glidepace: 1\nposture: none\ntitle: The longest\nbreath: {rate: 8, ratio: \"1:1.5\"}\nset_up: 30s\nexercises:\n"
	for i := range 12 {
		text += fmt.Sprintf("  - own: {name: glide %d", i)
		for _, part := range []string{"start", "out", "back"} {
			text += ", " + part + ": \""
			for n := range 16 {
				text += fmt.Sprintf("Item %c, %s %c. ", 'a'+i, part, 'a'+n)
			}
			text += "\""
		}
		text += "}\n    side: both\n    sets: 1\n    reps: 12\n    rest: 20s\n"
	}
	file, line := session(t, text)
	if line.Duration < 55*60 {
		t.Fatalf("the session lasts %v s", line.Duration)
	}
	cmd := exec.Command(program(t), "check", file)
	cmd.Env = append(os.Environ(), "XDG_CACHE_HOME="+t.TempDir())
	began := time.Now()
	memory := peakMemory(t, cmd)
	took := time.Since(began)
	t.Logf("%v, %.1f MB", took, memory)
	if took > time.Second || memory > 100 {
		t.Errorf("it took %v and %.1f MB", took, memory)
	}
}
