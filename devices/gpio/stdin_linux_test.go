package gpio

import (
	"errors"
	"os"
	"os/exec"
	"testing"

	"golang.org/x/sys/unix"
)

// The test runs itself, so that descriptor 0 can be closed without harm.
func TestKeepStdin(t *testing.T) {
	if how := os.Getenv("KEEP_STDIN"); how != "" {
		var before, after unix.Stat_t
		if how == "closed before" {
			unix.Close(0)
		} else if err := unix.Fstat(0, &before); err != nil {
			t.Fatal(err)
		}
		failed := errors.New("from the search")
		if err := keepStdin(func() error { unix.Close(0); return failed }); err != failed {
			t.Errorf("error %v, want that of the search", err)
		}
		if err := unix.Fstat(0, &after); err != nil {
			t.Fatal("descriptor 0:", err)
		}
		if how == "open before" && (before.Dev != after.Dev || before.Ino != after.Ino) {
			t.Error("descriptor 0 is another file")
		}
		return
	}
	for _, how := range []string{"open before", "closed before"} {
		cmd := exec.Command(os.Args[0], "-test.run=^TestKeepStdin$")
		cmd.Env = append(os.Environ(), "KEEP_STDIN="+how)
		in, err := os.Open(os.Args[0])
		if err != nil {
			t.Fatal(err)
		}
		cmd.Stdin = in
		if out, err := cmd.CombinedOutput(); err != nil {
			t.Errorf("%s: %v\n%s", how, err, out)
		}
		in.Close()
	}
}
