package loan

import (
	"errors"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"runtime"
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
	runtime.LockOSThread() // strace counts system calls by thread
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
		_, err = Load(card, clinic, sample("K-204"))
	} else {
		_, err = Back(card, clinic, known)
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
	if err != nil && (!errors.As(err, new(*exec.ExitError)) || len(text) > 0) {
		t.Fatalf("operation %d of %s: %v: %s", n, part, err, text)
	}
	return err != nil
}

// leastOperations is fewer than there are in loading or bringing back; so many
// kills at least a test must have seen.
const leastOperations = 25

func TestKilledAtEachOperation(t *testing.T) {
	for name, killed := range map[string]func(*testing.T, killer) int{"load": loadKilled, "back": backKilled, "back with traces": backWithTracesKilled} {
		t.Run(name, func(t *testing.T) {
			n := killed(t, killedAt)
			t.Logf("killed at each of %d operations", n)
			if n < leastOperations {
				t.Errorf("%d operations only", n)
			}
		})
	}
}

// killer runs a part of the program and kills it at its n-th operation. It
// returns whether there was one.
type killer func(t *testing.T, n int, part, card, clinic string) bool

// loadKilled loads a card and is killed, at each operation in turn: the card and
// the clinic never say that a box is lent while the other knows nothing of it. It
// returns how many operations there were.
func loadKilled(t *testing.T, kill killer) int {
	n := 1
	for ; ; n++ {
		card, clinic, what := t.TempDir(), newClinic(t), fmt.Sprintf("operation %d", n)
		killed := kill(t, n, "load", card, clinic)
		record, err := Read(card)
		do(t, err)
		loaded := record != nil && !record.Loading
		known := loansOf(t, clinic)
		if loaded && !strings.HasPrefix(known, "Box 3 to K-204, ") || !loaded && strings.Contains(known, "lent") {
			t.Errorf("%s: the card has the record %+v, and the clinic knows of %q", what, record, known)
		}
		if loaded && !killed {
			break
		}
		switch {
		case loaded: // what may be missing is a name on the disk, and that the clinic knows it
		case n%3 == 0: // it is loaded again
			loadFrom(t, clinic, card, "K-204")
		case n%3 == 1: // it is loaded for somebody else
			loadFrom(t, clinic, card, "K-311")
			for name, text := range snapshot(t, card) {
				if strings.Contains(text, "K-204") {
					t.Errorf("%s: %s is still there", what, name)
				}
			}
		default: // it is brought back
			put(t, card, box.FileName, boxYAML)
			back(t, card, clinic)
			holds(t, what, card, box.FileName)
			same(t, what+": the clinic's loans", loansOf(t, clinic), "")
			continue
		}
		before := snapshot(t, card)
		if _, err := Load(card, clinic, sample("K-204")); err == nil {
			t.Errorf("%s: a card that is loaded is loaded again", what)
		}
		same(t, what, snapshot(t, card), before)
		if len(before) != 6 {
			t.Errorf("%s: the card has %d files", what, len(before))
		}
		patient := "K-204"
		if n%3 == 1 && !loaded {
			patient = "K-311"
		}
		same(t, what+": the clinic's loans", loansOf(t, clinic), "Box 3 to "+patient+", lent")
	}
	return n - 1
}

// eachKilled brings back copies of a card, to copies of the diary of the clinic that
// lent it, and is killed, at each operation in turn, and then calls then. It returns how
// many operations there were.
func eachKilled(t *testing.T, kill killer, lent, lender string, then func(n int, card, clinic string)) int {
	n := 1
	for killed := true; killed; n++ {
		card, clinic := t.TempDir(), newClinic(t)
		do(t, os.CopyFS(card, os.DirFS(lent)), os.CopyFS(filepath.Dir(clinic), os.DirFS(filepath.Dir(lender))))
		killed = kill(t, n, "back", card, clinic)
		then(n, card, clinic)
	}
	return n - 2
}

// backKilled brings a card back: whenever it is killed nothing is lost, and it
// can be gone on with.
func backKilled(t *testing.T, kill killer) int {
	card, lender := t.TempDir(), newClinic(t)
	loadFrom(t, lender, card, "K-204")
	done := use(t, card, "K-204")
	return eachKilled(t, kill, card, lender, func(n int, card, clinic string) {
		what := fmt.Sprintf("operation %d", n)
		if asText(t, inDiary(t, clinic)) != asText(t, done) { // then all is still on the card
			same(t, what+": on the card", inDiary(t, filepath.Join(card, "diary.db")), done)
		}
		if record, err := Read(card); err != nil || record == nil && !strings.HasSuffix(loansOf(t, clinic), "back 2027-01-04") {
			t.Errorf("%s: the card is clean (%v), and the clinic knows of %q", what, err, loansOf(t, clinic))
		}
		back(t, card, clinic)
		same(t, what+": at the clinic", inDiary(t, clinic), done)
		same(t, what+": the clinic's loans", loansOf(t, clinic), "Box 3 to K-204, lent, back 2027-01-04")
		holds(t, what, card, box.FileName)
		clinics := snapshot(t, filepath.Dir(clinic))
		same(t, what+": a third time", back(t, card, clinic), Returned{Nothing: true})
		same(t, what+": at the clinic", snapshot(t, filepath.Dir(clinic)), clinics)
	})
}

// backWithTracesKilled is backKilled with a file on the card that names the
// patient: whenever it is killed, the card never ends as clean before that file
// is gone.
func backWithTracesKilled(t *testing.T, kill killer) int {
	card, lender := t.TempDir(), newClinic(t)
	loadFrom(t, lender, card, "K-204")
	done := use(t, card, "K-204")
	put(t, card, "mark.txt", "asked K-204 to call")
	return eachKilled(t, kill, card, lender, func(n int, card, clinic string) {
		what := fmt.Sprintf("operation %d", n)
		for range 2 {
			same(t, what+": traces", back(t, card, clinic).Traces, []Trace{{File: "mark.txt", What: patientCode}})
		}
		same(t, what+": at the clinic", inDiary(t, clinic), done)
		holds(t, what+": on the card", card, box.FileName, merged("diary.db"), RecordName, "mark.txt")

		do(t, os.Remove(filepath.Join(card, "mark.txt")))
		kill(t, 1+n%12, "back", card, clinic)
		back(t, card, clinic)
		holds(t, what+": in the end", card, box.FileName)
	})
}
