package sessions_test

import (
	"bytes"
	"os"
	"testing"

	"gopkg.in/yaml.v3"

	"glidepace/sessions"
)

// What it takes to read a session file, beside the YAML of it alone.
func BenchmarkParse(b *testing.B) {
	text, err := os.ReadFile("../testdata/sessions/both-hands.yaml")
	if err != nil {
		b.Fatal(err)
	}
	b.Run("strict", func(b *testing.B) {
		for b.Loop() {
			if _, err := sessions.Parse("session.yaml", bytes.NewReader(text)); err != nil {
				b.Fatal(err)
			}
		}
	})
	b.Run("yaml", func(b *testing.B) {
		for b.Loop() {
			var n yaml.Node
			if err := yaml.Unmarshal(text, &n); err != nil {
				b.Fatal(err)
			}
		}
	})
}
