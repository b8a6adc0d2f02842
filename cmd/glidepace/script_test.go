package main

import (
	"database/sql"
	"flag"
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"testing"
	"time"

	"github.com/rogpeppe/go-internal/testscript"

	"glidepace/cmd/glidepace/internal/live"
	"glidepace/pacer"
	"glidepace/sessions"
	"glidepace/sessions/diary"
	"glidepace/sessions/history"
)

var update = flag.Bool("update", false, "rewrite the files that scripts compare with")

func TestMain(m *testing.M) {
	flag.Set("test.parallel", "8") // scripts wait most of the time
	testscript.Main(m, map[string]func(){"glidepace": main, "sleep": sleep, "ls": ls, "past": writePast, "sql": runSQL})
}

// Scripts see no programs but glidepace and these.

func ls() {
	entries, err := os.ReadDir(os.Args[1])
	if err != nil {
		panic(err)
	}
	for _, e := range entries {
		fmt.Println(e.Name())
	}
}

// writePast (FILE DAYS HOW [RATINGS]) writes a session of some days ago into the
// diary: how it was ("completed", or a symptom that ended it), and what was
// rated before and after, such as 2/0-3/0.
func writePast() {
	t, err := live.Load(os.Args[1])
	if err != nil {
		panic(err)
	}
	var days int
	fmt.Sscan(os.Args[2], &days)
	var r [4]int
	if len(os.Args) > 4 {
		fmt.Sscanf(os.Args[4], "%d/%d-%d/%d", &r[0], &r[1], &r[2], &r[3])
		keepPast(diary.DefaultPath(), t, days, os.Args[3],
			sessions.Ratings{Tingling: &r[0], Pain: &r[1]}, sessions.Ratings{Tingling: &r[2], Pain: &r[3]})
		return
	}
	keepPast(diary.DefaultPath(), t, days, os.Args[3], sessions.Ratings{}, sessions.Ratings{})
}

func keepPast(path string, t *pacer.Timeline, days int, how string, before, after sessions.Ratings) {
	started := time.Now().AddDate(0, 0, -days)
	e := history.NewSession(t, started, t.Session().Hash(), history.PlanOf(t.Session(), pacer.Prescribed(t.Session()), ""), false)
	e.Before = before
	b := history.NewWriter(diary.Options{}, path, t, e, func(err error) { panic(err) })
	tell := func(e pacer.Event) {
		e.Timeline, e.At, e.Done = t, started, pacer.Done{Repetitions: 1}
		b.Follow(e)
	}
	tell(pacer.Event{Kind: pacer.Began})
	end := pacer.Event{Kind: pacer.Ended, Outcome: sessions.Completed}
	answers := map[string]pacer.Answer{"pain": pacer.Pain, "breathing": pacer.Breathing, "warning": pacer.WarningSign, "still": pacer.Still}
	if a, ok := answers[how]; ok {
		set := slices.IndexFunc(t.Steps, pacer.Step.InSet)
		tell(pacer.Event{Kind: pacer.Stopped, Step: set})
		tell(pacer.Event{Kind: pacer.Answered, Step: set, Answer: a})
		end.Outcome = sessions.Symptoms
	}
	tell(end)
	b.Rated(after)
	if lost := b.Close(); lost != nil {
		panic(lost)
	}
}

// runSQL (DIARY STATEMENTS) changes a diary by hand.
func runSQL() {
	db, err := sql.Open("sqlite", os.Args[1])
	if err == nil {
		_, err = db.Exec(os.Args[2])
	}
	if err != nil {
		panic(err)
	}
}

func sleep() {
	d, err := time.ParseDuration(os.Args[1] + "s")
	if err != nil {
		panic(err)
	}
	time.Sleep(d)
}

// The scripts drive the program as a person does; each is one behaviour.
func TestScripts(t *testing.T) {
	dir := filepath.Join("..", "..", "testdata", "scripts")
	scripts, err := filepath.Glob(filepath.Join(dir, "*.txtar"))
	if err != nil || len(scripts) == 0 {
		t.Fatalf("no scripts in %s (%v)", dir, err)
	}
	sessionFiles, err := filepath.Abs(filepath.Join("..", "..", "testdata", "sessions"))
	if err != nil {
		t.Fatal(err)
	}
	testscript.Run(t, testscript.Params{
		Dir:                 dir,
		RequireExplicitExec: true,
		RequireUniqueNames:  true,
		UpdateScripts:       *update,
		Setup: func(e *testscript.Env) error {
			e.Setenv("SESSIONS", sessionFiles)
			e.Setenv("TZ", "UTC")
			e.Setenv("HOME", filepath.Join(e.WorkDir, "home"))
			e.Setenv("XDG_STATE_HOME", filepath.Join(e.WorkDir, "state"))
			e.Setenv("XDG_CACHE_HOME", filepath.Join(e.WorkDir, "cache"))
			// The program alone, wherever the tests run: no espeak-ng, no
			// ffmpeg, nothing to be heard.
			e.Setenv("PATH", filepath.SplitList(e.Getenv("PATH"))[0])
			e.Setenv("PULSE_SERVER", "unix:"+filepath.Join(e.WorkDir, "no-server"))
			return os.MkdirAll(filepath.Join(e.WorkDir, "home"), 0o700)
		},
	})
}
