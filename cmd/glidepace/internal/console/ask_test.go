package console

import (
	"errors"
	"io"
	"strings"
	"testing"
)

// Only the keys that answer do; in any case, and Enter as any terminal gives it.
func TestChoose(t *testing.T) {
	for typed, c := range map[string]struct {
		keys, shown string
		want        rune
	}{
		"y":     {"yn", "? y\n", 'y'},
		"Y":     {"yn", "? y\n", 'y'},
		"\nx n": {"yn", "? n\n", 'n'}, // an Enter pressed once too often
		"\r":    {"q\n", "? \n", '\n'},
		"\n":    {"q\n", "? \n", '\n'},
	} {
		var out strings.Builder
		if key, err := Choose(t.Context(), strings.NewReader(typed), &out, "? ", c.keys, 0); key != c.want || err != nil || out.String() != c.shown {
			t.Errorf("%q: %q, %v, shown %q; want %q, shown %q", typed, key, err, out.String(), c.want, c.shown)
		}
	}
	if _, err := Choose(t.Context(), strings.NewReader("ab"), io.Discard, "? ", "y", 0); !errors.Is(err, io.EOF) {
		t.Errorf("where no more keys come: %v", err)
	}
	if _, err := Choose(t.Context(), strings.NewReader("\x03y"), io.Discard, "? ", "y", 0); err == nil {
		t.Error("Ctrl-C, where it is a key, is passed over")
	}
}

// The keys stand behind their question where there is room, else below it.
func TestAsking(t *testing.T) {
	long := strings.Repeat("word ", 15) + "end?" // 79 columns
	for _, c := range []struct{ question, want string }{
		{"Back?", "Back? (y, n) "},
		{long, long + "\n(y, n) "},
		{long + " Or not?", long + "\nOr not? (y, n) "},
	} {
		if got := strings.Join(Asking(io.Discard, c.question, "(y, n)"), "\n"); got != c.want {
			t.Errorf("%q, want %q", got, c.want)
		}
	}
}
