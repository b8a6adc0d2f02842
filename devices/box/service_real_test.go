//go:build real && linux

package box

import (
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strconv"
	"strings"
	"testing"
)

func runTool(t *testing.T, name string, args ...string) string {
	t.Helper()
	out, err := exec.Command(name, args...).CombinedOutput()
	if err != nil {
		t.Fatalf("%s %s: %v\n%s", name, strings.Join(args, " "), err, out)
	}
	return string(out)
}

// writeUnit writes the unit, with a program that is on this machine.
func writeUnit(t *testing.T) string {
	t.Helper()
	program, err := os.Executable()
	if err != nil {
		t.Fatal(err)
	}
	name := filepath.Join(t.TempDir(), "glidepace-box.service")
	if err := os.WriteFile(name, []byte(strings.ReplaceAll(serviceOf(t, Default).Unit, Program, program)), 0o644); err != nil {
		t.Fatal(err)
	}
	return name
}

func TestSystemdAcceptsTheUnit(t *testing.T) {
	if out := runTool(t, "systemd-analyze", "verify", writeUnit(t)); strings.Contains(out, "glidepace") {
		t.Errorf("systemd-analyze verify says:\n%s", out)
	}
}

// systemd's own figure is 0 for a service that can do nothing to 10 for one
// that can do all; it calls up to 2.0 safe.
func TestUnitIsSafe(t *testing.T) {
	out := runTool(t, "systemd-analyze", "security", "--offline=true", "--no-pager", writeUnit(t))
	m := regexp.MustCompile(`exposure level for \S+: ([0-9.]+)`).FindStringSubmatch(out)
	if m == nil {
		t.Fatalf("no figure in:\n%s", out)
	}
	if figure, _ := strconv.ParseFloat(m[1], 64); figure > 1.5 {
		t.Errorf("exposure %v, want at most 1.5:\n%s", figure, out)
	}
	t.Log("exposure", m[1])
}

func TestSysusersMakesTheUser(t *testing.T) {
	root := t.TempDir()
	if err := os.Mkdir(filepath.Join(root, "etc"), 0o755); err != nil {
		t.Fatal(err)
	}
	name := filepath.Join(root, "glidepace.conf")
	if err := os.WriteFile(name, []byte(serviceOf(t, Default).Users), 0o644); err != nil {
		t.Fatal(err)
	}
	runTool(t, "systemd-sysusers", "--root="+root, name)
	for file, want := range map[string]string{"passwd": `(?m)^glidepace:.*nologin$`, "group": `(?m)^gpio:.*:glidepace$`} {
		got, err := os.ReadFile(filepath.Join(root, "etc", file))
		if err != nil || !regexp.MustCompile(want).Match(got) {
			t.Errorf("%s has no %s (%v):\n%s", file, want, err, got)
		}
	}
}
