package diary

import (
	"errors"
	"maps"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"testing"
)

// stepsVariable is after how many steps of a merge mergeAndDie is killed.
const stepsVariable = "GLIDEPACE_DIARY_TEST_STEPS"

// mergeAndDie merges the diary in dir/card into dir/clinic.db, and is killed
// on the way.
func mergeAndDie(dir string) {
	begunMerge(must(Open(filepath.Join(dir, "clinic.db"))), filepath.Join(dir, "card", "diary.db"), must(strconv.Atoi(os.Getenv(stepsVariable))))
	check(must(os.FindProcess(os.Getpid())).Kill())
	select {}
}

// begunMerge does the first steps of a merge.
func begunMerge(into *Diary, path string, steps int) *merge {
	m := &merge{into: into, path: path}
	for _, step := range m.steps()[:steps] {
		check(step())
	}
	return m
}

func TestMergeKilledAtEachStep(t *testing.T) {
	dir := t.TempDir()
	path := filepath.Join(dir, "card", "diary.db")
	other := card(t, path)
	add(t, other, "a000000000", 10, true)
	add(t, other, "b000000000", 2, false)
	do(t, other.Close())
	first := must(os.ReadFile(path))
	steps := len((&merge{}).steps())
	for n := range steps + 1 {
		before := snapshot(t, filepath.Dir(path))
		do(t, os.RemoveAll(filepath.Join(dir, "clinic.db")))
		old := opened(t, filepath.Join(dir, "clinic.db"))
		add(t, old, "b000000000", 1, false)
		add(t, old, "c000000000", 3, true)
		do(t, old.Close())

		c, _ := program(t, "merge", dir, stepsVariable+"="+strconv.Itoa(n))
		var exit interface{ ExitCode() int }
		if err := c.Wait(); !errors.As(err, &exit) || exit.ExitCode() != -1 {
			t.Fatalf("after %d steps it was not killed: %v", n, err)
		}
		if !maps.Equal(snapshot(t, filepath.Dir(path)), before) {
			t.Errorf("killed after %d steps, the other diary is changed", n)
		}
		clinic := opened(t, filepath.Join(dir, "clinic.db"))
		list := must(clinic.List(Filter{}))
		want := "a//b"
		switch committed := len(list) == 3; {
		case committed != (n >= 9) || !committed && len(list) != 2:
			t.Errorf("killed after %d steps, it has %d sessions", n, len(list))
		case committed:
			want = "//ab"
		default:
			want = "a/b/"
		}
		mergeAll(t, clinic, path, want)
		s := must(clinic.Show("b000"))
		if s.Done.Repetitions != 2 || len(s.Events) != 3 {
			t.Errorf("killed after %d steps, then merged: %+v", n, s)
		}
		mergeAll(t, clinic, path, "//ab")
		do(t, clinic.Close())
	}
	if last, err := os.ReadFile(path); err != nil || string(last) != string(first) {
		t.Errorf("the other diary is not as it was (%v)", err)
	}
}

func TestMergeSeesThatTheOtherWentOn(t *testing.T) {
	clinic, other := fresh(t), card(t, filepath.Join(t.TempDir(), "diary.db"))
	add(t, other, "a000000000", 2, true)
	m := begunMerge(clinic, other.path, 10)
	defer m.leave()
	add(t, other, "b000000000", 2, true)
	if err := m.lookAgain(); err == nil || !strings.Contains(err.Error(), "merge it again") {
		t.Errorf("error %v", err)
	}
	if _, err := clinic.Merge(other.path); err == nil || !strings.Contains(err.Error(), "another program merges") {
		t.Errorf("two at once: %v", err)
	}
	m.leave()
	m.lock, m.db, m.tx = nil, nil, nil
	mergeAll(t, clinic, other.path, "b//a")
}

func TestVerifyFindsWhatIsMissing(t *testing.T) {
	for what, change := range map[string]string{
		"an event":   "DELETE FROM events WHERE seq = 1",
		"a session":  "DELETE FROM events WHERE session = 'b000000000'; DELETE FROM sessions WHERE id = 'b000000000'",
		"an outcome": "UPDATE sessions SET outcome = 'symptoms'",
		"a detail":   "UPDATE events SET detail = 'x' WHERE seq = 0",
	} {
		clinic, other := fresh(t), card(t, filepath.Join(t.TempDir(), "diary.db"))
		add(t, other, "a000000000", 2, true)
		add(t, other, "b000000000", 3, true)
		m := begunMerge(clinic, other.path, 9)
		must(clinic.db.Exec(change))
		if err := m.verify(); err == nil {
			t.Errorf("%s is gone and was not missed", what)
		}
		m.leave()
	}
}
