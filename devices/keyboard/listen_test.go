package keyboard

import (
	"io"
	"testing"
)

// What is read comes as it is, Escape included, and the end comes with it.
func TestListenerGivesWhatIsRead(t *testing.T) {
	r, w := pipe(t)
	heard := make(chan string)
	ended := make(chan error, 1)
	l, err := Listen(r, func(keys []byte, err error) {
		if len(keys) > 0 {
			heard <- string(keys)
		}
		if err != nil {
			ended <- err
		}
	})
	if err != nil {
		t.Fatal(err)
	}
	for _, key := range []string{"x", "\x1b[A", "é"} {
		io.WriteString(w, key)
		if got := <-heard; got != key {
			t.Errorf("%q is heard as %q", key, got)
		}
	}
	w.Close()
	if err := <-ended; err != io.EOF {
		t.Errorf("the end is %v", err)
	}
	if err := l.Close(); err != nil {
		t.Error(err)
	}
}
