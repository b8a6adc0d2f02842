//go:build real

package review

import (
	"bytes"
	"encoding/json"
	"os/exec"
	"testing"
)

// A second reader, Python's, finds the same rows.
func TestCSVInPython(t *testing.T) {
	cmd := exec.Command("python3", "-c", `import csv, io, json, sys
print(json.dumps(list(csv.reader(io.TextIOWrapper(sys.stdin.buffer, encoding="utf-8", newline="")))))`)
	cmd.Stdin = bytes.NewReader(hostile(t))
	text, err := cmd.Output()
	if err != nil {
		t.Fatal(err)
	}
	var rows [][]string
	if err := json.Unmarshal(text, &rows); err != nil {
		t.Fatal(err)
	}
	checkRows(t, rows)
}
