package diary

import (
	"fmt"
	"os/exec"
	"path/filepath"
	"testing"

	"glidepace/sessions"
)

func TestProgramsAtOnce(t *testing.T) {
	const programs = 3
	path := filepath.Join(t.TempDir(), "state", "diary.db") // which they also make at once
	var running []*exec.Cmd
	for range programs {
		c, _ := program(t, "sessions", path)
		running = append(running, c)
	}
	for _, c := range running {
		if err := c.Wait(); err != nil {
			t.Errorf("a program failed: %v", err)
		}
	}
	d := opened(t, path)
	list := must(d.List(Filter{}))
	if len(list) != programs*sessionsEach {
		t.Errorf("%d sessions, want %d", len(list), programs*sessionsEach)
	}
	for _, s := range list {
		if s.Outcome != sessions.Completed || s.Done.Repetitions != repsEach {
			t.Errorf("session %s: %q with %d repetitions", s.ID, s.Outcome, s.Done.Repetitions)
		}
	}
	var sound string
	do(t, d.db.QueryRow("PRAGMA integrity_check").Scan(&sound))
	if sound != "ok" {
		t.Errorf("integrity: %s", sound)
	}
	noLocks(t, path)
}

func TestKilledSessionReadsInterrupted(t *testing.T) {
	path := filepath.Join(t.TempDir(), "diary.db")
	for _, kill := range []int{1, 7, 30} {
		c, lines := program(t, "endless", path)
		said := 0
		for said < kill && lines.Scan() {
			fmt.Sscanf(lines.Text(), "recorded %d", &said)
		}
		alive := opened(t, path)
		list := must(alive.List(Filter{}))
		do(t, alive.Close(), c.Process.Kill())
		if last := list[len(list)-1]; last.Outcome != "" {
			t.Errorf("while it ran its outcome was %q", last.Outcome)
		}
		for lines.Scan() { // what it still said before it was gone
			fmt.Sscanf(lines.Text(), "recorded %d", &said)
		}
		c.Wait()

		d := opened(t, path)
		list = must(d.List(Filter{}))
		s := must(d.Show(list[len(list)-1].ID))
		if s.Outcome != sessions.Interrupted || s.Done.Repetitions < said {
			t.Errorf("%q with %d repetitions, want interrupted with at least %d", s.Outcome, s.Done.Repetitions, said)
		}
		last := s.Events[len(s.Events)-1]
		if len(s.Events) != s.Done.Repetitions+1 || last.Rep != s.Done.Repetitions || s.Length != last.At {
			t.Errorf("%d events, the last %+v, length %v", len(s.Events), last, s.Length)
		}
		do(t, d.Close())
		noLocks(t, path)
	}
}

// What was said is kept though the program is killed at the next question.
func TestKilledAtTheQuestions(t *testing.T) {
	for _, last := range []string{"begun", "ended", "rated", "timed"} {
		path := filepath.Join(t.TempDir(), "diary.db")
		c, lines := program(t, "questions", path)
		said := ""
		for said != last && lines.Scan() {
			said = lines.Text()
		}
		do(t, c.Process.Kill())
		c.Wait()
		s := only(t, opened(t, path))
		if said != last || s.Before.String() != "2/0" {
			t.Errorf("killed at %q (%q): rated %s before", last, said, s.Before)
		}
		if last != "begun" && s.Outcome != sessions.Completed {
			t.Errorf("killed at %q: outcome %q", last, s.Outcome)
		}
		if (last == "rated" || last == "timed") && s.After.String() != "4/1" {
			t.Errorf("killed at %q: rated %q after", last, s.After)
		}
		if last == "timed" && (s.Settling == nil || *s.Settling != Settling{false, 120}) {
			t.Errorf("killed at %q: settling %+v", last, s.Settling)
		}
	}
}
