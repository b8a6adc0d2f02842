// Package sessionstest parses session files for tests.
package sessionstest

import (
	"strings"
	"testing"

	"glidepace/sessions"
)

// Parse parses the text of a session file, in which nothing is to be wrong.
func Parse(t testing.TB, text string) *sessions.Session {
	t.Helper()
	s, err := sessions.Parse("test.yaml", strings.NewReader(text))
	if err != nil {
		t.Fatal(err)
	}
	return s
}
