//go:build real && linux

package main

import (
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"

	"glidepace/sounds/out/outtest"
)

// None of these commands opens a socket of a network. With sound, a session speaks to the sound
// server of this machine. So does espeak-ng, whatever it is asked.
func TestRealNoNetwork(t *testing.T) {
	s := outtest.Start(t)
	glidepace, dir := program(t), t.TempDir()
	at := func(name string) string { return filepath.Join(dir, name) }
	file, _ := session(t, brief)
	lent, _ := session(t, strings.Replace(brief, "title: Brief", "title: Brief\npatient: K-204", 1))
	if err := os.Mkdir(at("card"), 0o700); err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(at("card/box.yaml"), []byte("glidepace-box: 1\nname: Box 3\nsession: session.yaml\ndiary: diary.db\n"), 0o600); err != nil {
		t.Fatal(err)
	}
	calls := regexp.MustCompile(`(?m)^.*\bsocket\(.*$|^.*sa_family=.*$`)
	for _, line := range []string{
		"pace " + file + " --yes --parts tones,ticks",
		"check " + file,
		"timeline " + file,
		"glides median-wrist",
		"render " + file + " -o " + at("brief.wav") + " --parts tones,voice",
		"page " + lent + " -o " + at("page.html"),
		"handout " + lent + " -o " + at("handout.html"),
		"diary list",
		"diary export",
		"diary merge ../../testdata/page.jsonl",
		"review --html " + at("review.html"),
		"box wiring " + at("card/box.yaml"),
		"box load " + lent + " --to " + at("card") + " --weeks 2",
		"box list",
		"box back --from " + at("card") + "",
	} {
		args := strings.Fields(line)
		cmd := s.Command("strace", append([]string{"-f", "-qq", "-e", "trace=network", "-e", "signal=none", "-s", "4096", "-o", at("trace"), glidepace}, args...)...)
		cmd.Env = append(cmd.Env, "XDG_STATE_HOME="+at("state"), "XDG_CACHE_HOME="+at("cache"))
		if out, err := cmd.CombinedOutput(); err != nil {
			t.Errorf("%s: %v\n%s", line, err, out)
		}
		trace, err := os.ReadFile(at("trace"))
		if err != nil {
			t.Fatal(err)
		}
		made := calls.FindAllString(string(trace), -1)
		for _, call := range made {
			if !strings.Contains(call, "AF_UNIX") {
				t.Errorf("%s: %s", line, call)
			}
		}
		if args[0] == "pace" && !strings.Contains(strings.Join(made, ""), "connect(") {
			t.Errorf("%s: the sound server was not seen", line)
		}
	}
}
