//go:build real

package page

import (
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"

	"glidepace/sessions/browsertest"
)

// clinic is a folder with the program and the session file short.yaml.
type clinic struct {
	t      *testing.T
	folder string
}

func newClinic(t *testing.T, session string) clinic {
	t.Helper()
	c := clinic{t, t.TempDir()}
	if said, err := exec.Command("go", "build", "-o", filepath.Join(c.folder, "program"), "../../cmd/glidepace").CombinedOutput(); err != nil {
		t.Fatalf("%v: %s", err, said)
	}
	c.put("short.yaml", session)
	return c
}

func (c clinic) put(name, text string) {
	c.t.Helper()
	if err := os.WriteFile(filepath.Join(c.folder, name), []byte(text), 0o600); err != nil {
		c.t.Fatal(err)
	}
}

// run runs the program, and returns what it says, in one line.
func (c clinic) run(args ...string) string {
	c.t.Helper()
	cmd := exec.Command(filepath.Join(c.folder, "program"), args...)
	cmd.Dir = c.folder
	said, err := cmd.CombinedOutput()
	if err != nil {
		c.t.Fatalf("%q: %v: %s", args, err, said)
	}
	return strings.Join(strings.Fields(string(said)), " ")
}

// What the page gives to the clinic is merged there, as often as one likes. A review
// tells it, and today's session counts it.
func TestClinicMergesThePage(t *testing.T) {
	t.Parallel()
	clinic := newClinic(t, short)
	clinic.run("page", "short.yaml", "-o", "short.html", "--parts", "tones,ticks")

	x := phone{browsertest.Open(t), t}
	x.Load(filepath.Join(clinic.folder, "short.html"))
	x.begin()
	x.until("Tingling or numbness now?")
	x.given()
	clinic.put("given.jsonl", browsertest.Eval[string](x.Browser, "shared"))

	for _, c := range []struct {
		command string
		want    []string
	}{
		{"diary merge given.jsonl --diary clinic.db", []string{"1 session added"}},
		{"diary merge given.jsonl --diary clinic.db", []string{"1 session there already"}},
		{"review --diary clinic.db", []string{"DEMO-7: ", "repetitions 2 of", "how with the page 1"}},
		{"check short.yaml --today --diary clinic.db", []string{"The last session began at "}},
	} {
		said := clinic.run(strings.Fields(c.command)...)
		for _, want := range c.want {
			if !strings.Contains(said, want) {
				t.Errorf("%s: no %q in %s", c.command, want, said)
			}
		}
	}
}
