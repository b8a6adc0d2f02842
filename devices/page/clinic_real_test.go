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

// What the page gives to the clinic is merged there, as often as one likes. A review
// tells it, and today's session counts it.
func TestClinicMergesThePage(t *testing.T) {
	t.Parallel()
	folder := t.TempDir()
	put := func(name, text string) {
		t.Helper()
		if err := os.WriteFile(filepath.Join(folder, name), []byte(text), 0o600); err != nil {
			t.Fatal(err)
		}
	}
	program := filepath.Join(folder, "program")
	if said, err := exec.Command("go", "build", "-o", program, "../../cmd/glidepace").CombinedOutput(); err != nil {
		t.Fatalf("%v: %s", err, said)
	}
	run := func(args ...string) string {
		t.Helper()
		c := exec.Command(program, args...)
		c.Dir = folder
		said, err := c.CombinedOutput()
		if err != nil {
			t.Fatalf("%q: %v: %s", args, err, said)
		}
		return strings.Join(strings.Fields(string(said)), " ")
	}
	put("short.yaml", short)
	run("page", "short.yaml", "-o", "short.html", "--parts", "tones,ticks")

	x := phone{browsertest.Open(t), t}
	x.Load(filepath.Join(folder, "short.html"))
	x.begin()
	x.until("Tingling or numbness now?")
	x.given()
	put("given.jsonl", browsertest.Eval[string](x.Browser, "shared"))

	for _, c := range []struct {
		command string
		want    []string
	}{
		{"diary merge given.jsonl --diary clinic.db", []string{"1 session added"}},
		{"diary merge given.jsonl --diary clinic.db", []string{"1 session there already"}},
		{"review --diary clinic.db", []string{"DEMO-7: ", "repetitions 2 of", "how with the page 1"}},
		{"check short.yaml --today --diary clinic.db", []string{"The last session began at "}},
	} {
		said := run(strings.Fields(c.command)...)
		for _, want := range c.want {
			if !strings.Contains(said, want) {
				t.Errorf("%s: no %q in %s", c.command, want, said)
			}
		}
	}
}
