package main

import (
	"bytes"
	"errors"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"testing"
)

// readmes are the documents with samples: blocks that begin with "$ glidepace".
var readmes = []string{"README.md", "sessions/README.md", "sounds/README.md", "devices/README.md"}

// Samples of these commands are not compared: they take time, or depend on a
// day, a person, a card or a sound.
var notCompared = []string{"pace", "tune", "render", "diary", "box"}

// What the documents show is what the program prints. A line "…" stands for any
// number of lines.
func TestReadmes(t *testing.T) {
	root := filepath.Join("..", "..")
	compared := 0
	for _, name := range readmes {
		text, err := os.ReadFile(filepath.Join(root, name))
		if err != nil {
			t.Fatal(err)
		}
		status := ""
		for _, s := range samples(string(text)) {
			args := strings.Fields(s.command)
			switch {
			case s.command == "echo $?":
				if status != "" && s.output != status+"\n" {
					t.Errorf("%s: the exit code is %s, not %s", name, status, s.output)
				}
				continue
			case args[0] == "glidepace" && (slices.Contains(notCompared, args[1]) || slices.Contains(args, "--today")):
				t.Logf("%s: not compared: $ %s", name, s.command)
				status = ""
				continue
			}
			compared++
			var got string
			got, status = runSample(t, root, args)
			if !matches(got, s.output) {
				t.Errorf("%s: $ %s\nprints\n%s\nand not\n%s", name, s.command, got, s.output)
			}
		}
	}
	if compared == 0 {
		t.Error("no sample was compared")
	}
}

type sample struct{ command, output string }

// samples returns the commands of the blocks that begin with one of glidepace,
// each with what stands below it.
func samples(text string) (list []sample) {
	for _, block := range regexp.MustCompile("(?ms)^```\n(.*?)^```$").FindAllStringSubmatch(text, -1) {
		if !strings.Contains(block[1], "$ glidepace ") {
			continue
		}
		for _, part := range strings.Split("\n"+block[1], "\n$ ")[1:] {
			command, output, _ := strings.Cut(part, "\n")
			if output != "" {
				output = strings.TrimSuffix(output, "\n") + "\n"
			}
			list = append(list, sample{command, output})
		}
	}
	return list
}

// runSample runs a command of a sample, with the program alone in the path, and
// returns what it prints and its exit code.
func runSample(t *testing.T, root string, args []string) (printed, status string) {
	t.Helper()
	var in *os.File
	if i := slices.Index(args, "<"); i > 0 {
		var err error
		if in, err = os.Open(filepath.Join(root, args[i+1])); err != nil {
			t.Fatal(err)
		}
		defer in.Close()
		args = args[:i]
	}
	if args[0] == "cat" {
		text, err := os.ReadFile(filepath.Join(root, args[1]))
		if err != nil {
			t.Fatal(err)
		}
		return string(text), "0"
	}
	c := exec.Command(args[0], args[1:]...)
	c.Dir = root
	if in != nil {
		c.Stdin = in
	}
	home := t.TempDir()
	c.Env = append(os.Environ(), "TZ=UTC", "HOME="+home, "XDG_STATE_HOME="+home, "XDG_CACHE_HOME="+home,
		"PATH="+filepath.SplitList(os.Getenv("PATH"))[0])
	var out bytes.Buffer
	c.Stdout, c.Stderr = &out, &out
	if err := c.Run(); err != nil && !errors.As(err, new(*exec.ExitError)) {
		t.Fatalf("$ %s: %v", strings.Join(args, " "), err)
	}
	return out.String(), strconv.Itoa(c.ProcessState.ExitCode())
}

// matches reports whether got is want, in which lines "…" stand for any lines.
func matches(got, want string) bool {
	parts := strings.Split(want, "…\n")
	for i, part := range parts {
		at := strings.Index("\n"+got, "\n"+part)
		if i == len(parts)-1 && i > 0 && part != "" {
			at = len(got) - len(part)
		}
		switch {
		case at < 0, i == 0 && at > 0, !strings.HasPrefix(got[at:], part):
			return false
		}
		got = got[at+len(part):]
	}
	return got == "" || strings.HasSuffix(want, "…\n")
}

func TestMatches(t *testing.T) {
	for _, c := range []struct {
		got, want string
		same      bool
	}{
		{"a\nb\n", "a\nb\n", true},
		{"a\nb\n", "a\n", false},
		{"a\n", "a\nb\n", false},
		{"a\nb\n", "a\n…\n", true},
		{"a\nb\n", "…\nb\n", true},
		{"a\nb\nc\n", "a\n…\nc\n", true},
		{"a\nb\nc\n", "b\n…\n", false},
		{"a\nb\nc\n", "…\nb\n", false},
		{"a\nbc\n", "…\nc\n", false},
		{"a\nb\nc\nb\n", "a\n…\nb\n", true},
		{"a\nx\nb\nc\nb\n", "a\n…\nb\nc\n…\n", true},
	} {
		if matches(c.got, c.want) != c.same {
			t.Errorf("matches(%q, %q) is not %t", c.got, c.want, c.same)
		}
	}
}
