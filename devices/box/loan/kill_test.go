package loan

import (
	"errors"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"runtime"
	"slices"
	"strings"
	"testing"

	"glidepace/devices/box"
)

// The test binary runs itself as another program that loads a card or brings it
// back, and kills itself before the operation of a number: "load 7 CARD CLINIC".
const partVariable = "GLIDEPACE_BOX_TEST"

func TestMain(m *testing.M) {
	var part, card, clinic string
	var at int // 0: never
	if _, err := fmt.Sscan(os.Getenv(partVariable), &part, &at, &card, &clinic); err != nil {
		os.Exit(m.Run())
	}
	runtime.LockOSThread() // who counts system calls counts them by thread
	operation = func(string) {
		if at--; at != 0 {
			return
		}
		me, err := os.FindProcess(os.Getpid())
		if err == nil {
			err = me.Kill()
		}
		if err == nil {
			select {} // until it is done
		}
		panic(err)
	}
	var err error
	if part == "load" {
		_, err = Load(card, sample("K-204"))
	} else {
		_, err = Back(card, clinic, false)
	}
	if err != nil {
		fmt.Fprintln(os.Stderr, err)
		os.Exit(1)
	}
	os.Exit(0)
}

// killedAt runs the part and reports whether it was killed at its n-th
// operation; else it was done before.
func killedAt(t *testing.T, n int, part, card, clinic string) bool {
	t.Helper()
	exe, err := os.Executable()
	do(t, err)
	c := exec.Command(exe)
	c.Env = append(os.Environ(), fmt.Sprintf("%s=%s %d %s %s", partVariable, part, n, card, clinic))
	text, err := c.CombinedOutput()
	var exit *exec.ExitError
	switch {
	case err == nil:
		return false
	case errors.As(err, &exit) && len(text) == 0:
		return true
	}
	t.Fatalf("operation %d of %s: %v: %s", n, part, err, text)
	return false
}

// leastOperations is fewer than there are in loading or bringing back; so many
// kills at least a test must have seen.
const leastOperations = 30

func TestLoadKilledAtEachOperation(t *testing.T) { atEachOperation(t, loadKilled) }
func TestBackKilledAtEachOperation(t *testing.T) { atEachOperation(t, backKilled) }

func TestBackWithTracesKilledAtEachOperation(t *testing.T) { atEachOperation(t, backWithTracesKilled) }

func atEachOperation(t *testing.T, killed func(*testing.T, killer) int) {
	n := killed(t, killedAt)
	t.Logf("killed at each of %d operations", n)
	if n < leastOperations {
		t.Errorf("%d operations only", n)
	}
}

// killer runs a part of the program and kills it at its n-th operation. It
// returns whether there was one.
type killer func(t *testing.T, n int, part, card, clinic string) bool

// loadKilled loads a card and is killed, at each operation in turn. It
// returns how many there were.
func loadKilled(t *testing.T, kill killer) int {
	n := 1
	for ; ; n++ {
		card := t.TempDir()
		killed := kill(t, n, "load", card, "-")
		loan, err := Read(card)
		do(t, err)
		if loan != nil && !loan.Loading {
			if _, err := Load(card, sample("K-204")); err == nil {
				t.Errorf("operation %d: a card that is loaded is loaded again", n)
			}
			if !killed {
				break
			}
			continue // all that was not done any more was to bring a name to the disk
		}
		switch n % 3 {
		case 0: // it is loaded again
			load(t, card, "K-204")
		case 1: // it is loaded for somebody else
			load(t, card, "K-311")
			for name, text := range snapshot(t, card) {
				if strings.Contains(text, "K-204") {
					t.Errorf("operation %d: %s is still there", n, name)
				}
			}
		case 2: // it is brought back
			do(t, os.WriteFile(filepath.Join(card, box.FileName), []byte(boxYAML), 0o600))
			_, err := Back(card, filepath.Join(t.TempDir(), "clinic.db"), false)
			do(t, err)
			same(t, fmt.Sprintf("operation %d", n), names(snapshot(t, card)), []string{box.FileName})
			continue
		}
		before := snapshot(t, card)
		if _, err := Load(card, sample("K-204")); err == nil {
			t.Errorf("operation %d: a card that is loaded is loaded again", n)
		}
		same(t, fmt.Sprintf("operation %d", n), snapshot(t, card), before)
		if len(names(before)) != 7 {
			t.Errorf("operation %d: %v", n, names(before))
		}
	}
	return n - 1
}

// backKilled brings a card back and is killed, at each operation in turn. It
// returns how many there were.
func backKilled(t *testing.T, kill killer) int {
	lent := t.TempDir()
	load(t, lent, "K-204")
	done := use(t, lent, "K-204")
	n := 1
	for killed := true; killed; n++ {
		card, clinic := t.TempDir(), filepath.Join(t.TempDir(), "clinic.db")
		do(t, os.CopyFS(card, os.DirFS(lent)))
		killed = kill(t, n, "back", card, clinic)

		// Nothing is lost: all is at the clinic, or still on the card.
		kept := inDiary(t, clinic)
		if asText(t, kept) != asText(t, done) {
			same(t, fmt.Sprintf("operation %d: on the card", n), inDiary(t, filepath.Join(card, "diary.db")), done)
		}
		_, err := Back(card, clinic, false)
		do(t, err)
		same(t, fmt.Sprintf("operation %d: at the clinic", n), inDiary(t, clinic), done)
		after, clinics := snapshot(t, card), snapshot(t, filepath.Dir(clinic))
		if !slices.Equal(names(after), []string{box.FileName}) {
			t.Errorf("operation %d: the card has %v", n, names(after))
		}
		r, err := Back(card, clinic, false)
		do(t, err)
		same(t, fmt.Sprintf("operation %d: a third time", n), r, Returned{Nothing: true})
		same(t, fmt.Sprintf("operation %d: at the clinic", n), snapshot(t, filepath.Dir(clinic)), clinics)
	}
	return n - 2
}

// backWithTracesKilled is backKilled with a file on the card that names the
// patient: whenever it was killed, the card never ends as clean before that
// file is gone.
func backWithTracesKilled(t *testing.T, kill killer) int {
	lent := t.TempDir()
	load(t, lent, "K-204")
	done := use(t, lent, "K-204")
	do(t, os.WriteFile(filepath.Join(lent, "mark.txt"), []byte("asked K-204 to call"), 0o600))
	want := []Trace{{File: "mark.txt", What: patientCode}}
	n := 1
	for killed := true; killed; n++ {
		card, clinic := t.TempDir(), filepath.Join(t.TempDir(), "clinic.db")
		do(t, os.CopyFS(card, os.DirFS(lent)))
		killed = kill(t, n, "back", card, clinic)
		for range 2 {
			r, err := Back(card, clinic, false)
			do(t, err)
			same(t, fmt.Sprintf("operation %d: traces", n), r.Traces, want)
		}
		same(t, fmt.Sprintf("operation %d: at the clinic", n), inDiary(t, clinic), done)
		same(t, fmt.Sprintf("operation %d: on the card", n), names(snapshot(t, card)), []string{box.FileName, AgainName, "mark.txt"})

		do(t, os.Remove(filepath.Join(card, "mark.txt")))
		kill(t, 1+n%5, "back", card, clinic)
		_, err := Back(card, clinic, false)
		do(t, err)
		same(t, fmt.Sprintf("operation %d: in the end", n), names(snapshot(t, card)), []string{box.FileName})
	}
	return n - 2
}
