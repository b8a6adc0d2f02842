package console

import (
	"errors"
	"fmt"
	"io/fs"
	"slices"
	"testing"

	"glidepace/sessions"
)

// Only the program begins a line of an error: a problem of a session file and a
// joined error do; what is in a name or in another program's words does not.
func TestErrorLines(t *testing.T) {
	foreign := &fs.PathError{Op: "open", Path: "a\nb\x1b[m", Err: fs.ErrNotExist}
	const told = "open a b\uFFFD[m: file does not exist"
	file := &sessions.Error{File: "x\ny", Problems: []sessions.Problem{{Text: "one\ntwo"}, {Text: "three"}}}
	for _, c := range []struct {
		err  error
		want []string
	}{
		{foreign, []string{told}},
		{Usagef("no\t%w; or\n", foreign), []string{"no " + told + "; or "}},
		{errors.Join(foreign, nil, errors.New("more")), []string{told, "more"}},
		{fmt.Errorf("voice: %w!", file), []string{"voice: x y:0:0: one two", "x y:0:0: three!"}},
		{fmt.Errorf("%w and %w", foreign, file), []string{told + " and x y:0:0: one two x y:0:0: three"}},
	} {
		if got := ErrorLines(c.err); !slices.Equal(got, c.want) {
			t.Errorf("%q: %q, want %q", c.err, got, c.want)
		}
	}
}
