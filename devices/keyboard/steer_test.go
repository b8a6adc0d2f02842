package keyboard

import (
	"io"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"glidepace/pacer"
)

func pipe(t *testing.T) (r, w *os.File) {
	t.Helper()
	r, w, err := os.Pipe()
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { r.Close(); w.Close() })
	return r, w
}

func steer(t *testing.T, in io.Reader, commands chan<- pacer.Command) *Listener {
	t.Helper()
	l, err := Steer(in, commands)
	if err != nil {
		t.Fatal(err)
	}
	return l
}

// said collects what in says until no more commands come.
func said(t *testing.T, in io.Reader) []pacer.Command {
	t.Helper()
	commands := make(chan pacer.Command)
	defer steer(t, in, commands).Close()
	var all []pacer.Command
	for c := range commands {
		all = append(all, c)
	}
	return all
}

func TestSteerFromAPipe(t *testing.T) {
	for in, want := range map[string][]pacer.Command{
		"":             nil, // the end of the input is not the end of the session
		" n q":         {pacer.Toggle, pacer.Enough, pacer.Toggle, pacer.Quit},
		"xN\tQ":        {pacer.Enough, pacer.Quit},
		"\n\rsS":       {pacer.Stop, pacer.Stop, pacer.Stop, pacer.Stop},
		"yupbd":        {pacer.Yes, pacer.NoSymptoms, pacer.SayPain, pacer.SayBreath, pacer.SayWarning},
		"\x03":         {pacer.Quit},
		"\x1b[A":       nil, // an arrow key
		"\x1bOq":       nil, // a keypad key, not q
		"\xc3\xb1\x80": nil, // not in ASCII
	} {
		r, w := pipe(t)
		io.WriteString(w, in)
		w.Close()
		if got := said(t, r); !slices.Equal(got, want) {
			t.Errorf("%q says %v, want %v", in, got, want)
		}
		if got := said(t, strings.NewReader(in)); !slices.Equal(got, want) {
			t.Errorf("%q from a reader says %v, want %v", in, got, want)
		}
	}
}

func TestSteerFromWhatCannotBeWaitedFor(t *testing.T) {
	file := filepath.Join(t.TempDir(), "keys")
	if err := os.WriteFile(file, []byte(" q"), 0o600); err != nil {
		t.Fatal(err)
	}
	for name, want := range map[string][]pacer.Command{os.DevNull: nil, file: {pacer.Toggle, pacer.Quit}} {
		f, err := os.Open(name)
		if err != nil {
			t.Fatal(err)
		}
		if got := said(t, f); !slices.Equal(got, want) {
			t.Errorf("%s says %v, want %v", name, got, want)
		}
		f.Close()
	}
}

// Close comes back while a read waits for a key and while a key waits to be
// heard, and takes nothing of what is typed afterwards.
func TestSteerCloses(t *testing.T) {
	r, w := pipe(t)
	closes := func(l *Listener) {
		t.Helper()
		closed := make(chan error)
		go func() { closed <- l.Close() }()
		select {
		case err := <-closed:
			if err != nil {
				t.Error(err)
			}
		case <-time.After(10 * time.Second):
			t.Fatal("Close does not come back")
		}
	}
	closes(steer(t, r, make(chan pacer.Command)))

	l := steer(t, r, make(chan pacer.Command))
	io.WriteString(w, "q")
	closes(l)

	w.Close()
	l = steer(t, r, make(chan pacer.Command, 1))
	<-l.ended
	closes(l)
}

// An arrow or function key is one key, whatever it is made of: no digit in it
// is one that was pressed.
func TestReadKeyTakesAWholeKey(t *testing.T) {
	r, w := pipe(t)
	for _, c := range []struct {
		typed string
		want  byte
	}{{"5", '5'}, {"\x1b[3~", '\x1b'}, {"7", '7'}, {"\x1b", '\x1b'}, {"1", '1'}} {
		io.WriteString(w, c.typed)
		if got, err := ReadKey(t.Context(), r, 0); err != nil || got != c.want {
			t.Errorf("%q reads %q, %v, want %q", c.typed, got, err, c.want)
		}
	}
}
