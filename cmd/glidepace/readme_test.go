package main

import (
	"bytes"
	"errors"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"testing"
)

// readmes are the documents with samples: blocks with a command of glidepace.
var readmes = []string{"README.md", "sessions/README.md", "sounds/README.md", "devices/README.md"}

// Samples of these commands are run. Those of the others take time, or depend on
// a day, a person, a card or a sound.
var (
	isRun  = regexp.MustCompile(`^(cat |glidepace (draft|handout|check|timeline|glides|count|render \S+ --list-cues)\b)`)
	notRun = regexp.MustCompile(`^glidepace (pace|page|tune|render|diary|review|box|check --today)\b`)
)

// What the documents show is what the program prints. A line "…" stands for any
// number of lines.
func TestReadmes(t *testing.T) {
	root, err := filepath.Abs(filepath.Join("..", ".."))
	if err != nil {
		t.Fatal(err)
	}
	folder := t.TempDir() // in which samples are run, and may write
	if err := os.Symlink(filepath.Join(root, "testdata"), filepath.Join(folder, "testdata")); err != nil {
		t.Fatal(err)
	}
	ran := 0
	for _, name := range readmes {
		text, err := os.ReadFile(filepath.Join(root, name))
		if err != nil {
			t.Fatal(err)
		}
		status := ""
		for _, s := range commandsIn(string(text)) {
			got := status // for $ echo $?
			switch {
			case s.command == "echo $?" && status != "":
			case isRun.MatchString(s.command) && !strings.Contains(s.command, "--today"):
				ran++
				got, status = runSample(t, folder, strings.Fields(s.command))
			case notRun.MatchString(s.command):
				t.Logf("%s: not run: $ %s", name, s.command)
				status = ""
				continue
			default:
				t.Errorf("%s: nothing is known of $ %s", name, s.command)
				continue
			}
			if !printsAs(got, s.output) {
				t.Errorf("%s: $ %s\nprints\n%s\nand not\n%s", name, s.command, got, s.output)
			}
		}
	}
	if ran == 0 {
		t.Error("no sample was run")
	}
}

type shown struct{ command, output string }

// commandsIn returns the commands in blocks that run glidepace, each with the output
// shown below it.
func commandsIn(text string) (list []shown) {
	for _, block := range regexp.MustCompile("(?ms)^```\\w*\n(.*?)^```$").FindAllStringSubmatch(text, -1) {
		if !strings.Contains(block[1], "$ glidepace ") {
			continue
		}
		for _, part := range strings.Split("\n"+block[1], "\n$ ")[1:] {
			command, output, _ := strings.Cut(part, "\n")
			if output != "" {
				output = strings.TrimSuffix(output, "\n") + "\n"
			}
			list = append(list, shown{command, output})
		}
	}
	return list
}

// runSample runs a command of a sample, with the program alone in the path, and
// returns what it prints and, in a line, its exit code.
func runSample(t *testing.T, folder string, args []string) (printed, status string) {
	t.Helper()
	var in *os.File
	if i := slices.Index(args, "<"); i > 0 {
		var err error
		if in, err = os.Open(filepath.Join(folder, args[i+1])); err != nil {
			t.Fatal(err)
		}
		defer in.Close()
		args = args[:i]
	}
	if args[0] == "cat" {
		text, err := os.ReadFile(filepath.Join(folder, args[1]))
		if err != nil {
			t.Fatal(err)
		}
		return string(text), "0\n"
	}
	c := exec.Command(args[0], args[1:]...)
	c.Dir = folder
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
	return out.String(), fmt.Sprintln(c.ProcessState.ExitCode())
}

// printsAs reports whether got is want, in which lines "…" stand for any lines.
func printsAs(got, want string) bool {
	pattern := strings.ReplaceAll(regexp.QuoteMeta(want), "…\n", "(.*\n)*")
	return regexp.MustCompile("^" + pattern + "$").MatchString(got)
}

func TestPrintsAs(t *testing.T) {
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
		if printsAs(c.got, c.want) != c.same {
			t.Errorf("printsAs(%q, %q) is not %t", c.got, c.want, c.same)
		}
	}
}
