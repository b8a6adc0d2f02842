package console

import (
	"io"
	"testing"
)

// A long line is broken between words, and goes on where its text began.
func TestFold(t *testing.T) {
	for _, c := range []struct{ line, want string }{
		{"12345678  twenty col", "12345678  twenty col"},
		{"glidepace: no file \"a\" is here", "glidepace: no file\n  \"a\" is here"},
		{"0:54.0  left side, get ready", "0:54.0  left side,\n        get ready"},
		{"        The head is upright.", "        The head is\n        upright."},
		{"1  First week (first-week.yaml)", "1  First week\n   (first-week.yaml)"},
		{"a-word-that-is-much-too-long and more", "a-word-that-is-much-too-long\n  and more"},
		{"w: write it.  q: leave it", "w: write it. q:\n  leave it"},
		{"", ""},
	} {
		if got := fold(20, c.line); got != c.want {
			t.Errorf("%q:\n%s\nwant\n%s", c.line, got, c.want)
		}
	}
	const long = "one line for scripts, however long it is, since they look for whole messages in it"
	if got := Fold(io.Discard, long); got != long {
		t.Errorf("where there is no terminal: %q", got)
	}
}
