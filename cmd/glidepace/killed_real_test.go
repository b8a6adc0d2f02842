//go:build real && linux

package main

import (
	"bytes"
	"cmp"
	"database/sql"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"maps"
	"math"
	"math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"sync/atomic"
	"testing"
	"time"

	"glidepace/sessions"
	"glidepace/sessions/diary/diarytest"
	"glidepace/sounds/file"
)

// kills returns how often pace, and how often each of the writers, is killed: KILLS
// times in all.
func kills(t *testing.T) (pace, writer int) {
	t.Helper()
	all, err := strconv.Atoi(cmp.Or(os.Getenv("KILLS"), "32"))
	if err != nil {
		t.Fatal(err)
	}
	return all / 4, (all - all/4 + len(writers) - 1) / len(writers)
}

// writer is a command that writes files. It runs in a folder with all that it needs.
type writer struct {
	name, args, typed string
	before            []string      // commands that make ready what it needs
	late              time.Duration // it writes nothing before
}

var writers = []writer{
	{name: "merge", args: "diary merge --diary clinic.db room.db"},
	{name: "merge into a new diary", args: "diary merge --diary new.db clinic.db room.db"},
	{name: "enter", args: "diary enter sheet.yaml --diary clinic.db --from ticks.csv"},
	{name: "enter into a new diary", args: "diary enter sheet.yaml --from ticks.csv"},
	{name: "render", args: "render sheet.yaml -o out.flac --captions --force"},
	{name: "render with ffmpeg", args: "render sheet.yaml -o out.mp3 --force"},
	{name: "handout", args: "handout sheet.yaml -o out.html --calendar out.ics --force"},
	{name: "page", args: "page sheet.yaml -o out.html --force"},
	{name: "tune", args: "tune sheet.yaml --from 20 --step 1s --sound off", typed: "\n7nw\n", late: time.Second},
	{name: "box load", args: loadBoxCard},
	{name: "box back", args: "box back --from card --into clinic.db",
		before: []string{loadBoxCard, "diary enter sheet.yaml --diary card/diary.db --from ticks.csv"}},
}

const loadBoxCard = "box load sheet.yaml --to card --box box.yaml --into clinic.db"

// prepared returns a folder with what the command reads and what it replaces.
func (w *writer) prepared(t *testing.T) string {
	t.Helper()
	dir, today := t.TempDir(), sessions.DateOf(time.Now())
	ticks := "date,done,tingling_before,pain_before,tingling_after,pain_after\n"
	for days := range 14 {
		ticks += fmt.Sprintf("%s,y,3,1,2,0\n", today.AddDays(-days))
	}
	for name, text := range map[string]string{
		"sheet.yaml": fmt.Sprintf(`glidepace: 1
title: Until it is killed
patient: K-204
dose: {per_day: 1, weeks: 4, start: %s}
breath: {rate: 12}
posture: none
exercises: [{glide: median-wrist, side: right, reps: 2}]
sounds: {voice: recordings, cues: spoken}
`, today.AddDays(-20)),
		"box.yaml": "glidepace-box: 1\nname: Box 3\n", "card/theirs": "", "ticks.csv": ticks, "spoken/theirs": "", "tmp/theirs": "",
		"out.flac": "old", "out.vtt": "old", "out.mp3": "old", "out.html": "old", "out.ics": "old",
	} {
		name = filepath.Join(dir, name)
		if err := errors.Join(os.MkdirAll(filepath.Dir(name), 0o700), os.WriteFile(name, []byte(text), 0o600)); err != nil {
			t.Fatal(err)
		}
	}
	for name, pitch := range map[string]float64{"breathe-in.wav": 0.05, "breathe-out.wav": 0.06} {
		word := make(clipSource, 20000)
		for i := range word {
			word[i] = int16(8000 * math.Sin(pitch*float64(i)))
		}
		if err := file.Write(t.Context(), filepath.Join(dir, "spoken", name), word, file.Options{}); err != nil {
			t.Fatal(err)
		}
	}
	for seed, name := range []string{"clinic.db", "room.db"} {
		if strings.Contains(w.args, name) {
			clinic := diarytest.Clinic{Seed: uint64(seed), Sessions: 60, Until: today}
			diarytest.Write(t, filepath.Join(dir, name), clinic.All())
		}
	}
	for _, args := range w.before {
		(&writer{args: args}).finish(t, dir)
	}
	return dir
}

// command returns the command as it runs in a folder, perhaps below another program.
func (w *writer) command(t *testing.T, dir string, below ...string) *exec.Cmd {
	args := slices.Concat(below, []string{program(t)}, strings.Fields(w.args))
	cmd := exec.Command(args[0], args[1:]...)
	cmd.Dir, cmd.Stdin = dir, strings.NewReader(w.typed)
	cmd.Env = append(os.Environ(), "XDG_STATE_HOME="+dir+"/state", "XDG_CACHE_HOME="+dir+"/cache", "TMPDIR="+dir+"/tmp")
	return cmd
}

// finish runs the command to its end and returns how long it took.
func (w *writer) finish(t *testing.T, dir string, below ...string) time.Duration {
	t.Helper()
	began := time.Now()
	if text, err := w.command(t, dir, below...).CombinedOutput(); err != nil {
		t.Fatalf("%s: %v\n%s", w.args, err, text)
	}
	return time.Since(began)
}

// killed runs the command and kills it at a random moment, every other time at a system
// call that changes a file. It returns which moment that was.
func (w *writer) killed(t *testing.T, dir string, took time.Duration, calls map[string]int) string {
	t.Helper()
	if rand.N(2) == 0 {
		names := slices.Sorted(maps.Keys(calls))
		call := names[rand.N(len(names))]
		n := 1 + rand.N(calls[call])
		w.command(t, dir, "strace", "-f", "-qq", "-o", "/dev/null", "-e", "trace="+call,
			"-e", fmt.Sprintf("inject=%s:signal=SIGKILL:when=%d", call, n)).Run()
		return fmt.Sprintf("killed at %s %d", call, n)
	}
	late := min(w.late, took/2)
	after := late + rand.N((took-late)*11/10)
	cmd := w.command(t, dir)
	if err := cmd.Start(); err != nil {
		t.Fatal(err)
	}
	time.Sleep(after)
	cmd.Process.Kill()
	cmd.Wait()
	for runsIn(dir) { // ffmpeg, which ends by itself
		time.Sleep(10 * time.Millisecond)
	}
	return fmt.Sprintf("killed after %v of %v", after, took)
}

// runsIn reports whether a program runs in a folder.
func runsIn(dir string) bool {
	links, _ := filepath.Glob("/proc/[0-9]*/cwd")
	return slices.ContainsFunc(links, func(link string) bool {
		cwd, err := os.Readlink(link)
		return err == nil && cwd == dir
	})
}

// calls returns which system calls that change files the command makes, and how many of
// each its busiest thread makes: so strace counts.
func (w *writer) calls(t *testing.T, dir string) map[string]int {
	t.Helper()
	trace := filepath.Join(t.TempDir(), "trace")
	w.finish(t, dir, "strace", "-f", "-qq", "-o", trace, "-e",
		"trace=openat,write,pwrite64,fsync,fdatasync,ftruncate,renameat,renameat2,linkat,unlinkat,mkdirat,fchmodat")
	text, err := os.ReadFile(trace)
	if err != nil {
		t.Fatal(err)
	}
	most, byThread := map[string]int{}, map[string]int{}
	for _, m := range regexp.MustCompile(`(?m)^(\d+) +(\w+)\(`).FindAllStringSubmatch(string(text), -1) {
		byThread[m[0]]++
		most[m[2]] = max(most[m[2]], byThread[m[0]])
	}
	if most["openat"] == 0 || most["unlinkat"]+most["renameat"]+most["pwrite64"] == 0 {
		t.Fatalf("it makes these calls: %v", most)
	}
	return most
}

// moment is what differs in every run: when it was, and the id of a new diary.
var moment = regexp.MustCompile(`SEQUENCE:\d+|\d{4}-?\d\d-?\d\dT[\d:.]+(Z|[+-]\d\d:\d\d)|"diary":"\w+"`)

// said returns the lines that the program prints, in order, without moments.
func said(args ...string) string {
	var out bytes.Buffer
	run(args, strings.NewReader(""), &out, io.Discard)
	lines := strings.Split(moment.ReplaceAllString(out.String(), "…"), "\n")
	slices.Sort(lines)
	return strings.Join(lines, "\n")
}

// loans is the end of the name under which holds has the loans of a diary.
const loans = " (loans)"

// holds returns what is in a folder: each file by its name, a diary as what it says.
func holds(t *testing.T, dir string) map[string]string {
	t.Helper()
	all := map[string]string{}
	err := filepath.WalkDir(dir, func(path string, e fs.DirEntry, err error) error {
		name, _ := filepath.Rel(dir, path)
		switch end := filepath.Ext(name); {
		case err != nil:
			return err
		case strings.Contains(path, ".db.merge/"): // half a copy, which the next merge makes again
			all[name] = ""
		case end == ".db":
			integrity(t, path)
			all[name] = said("diary", "export", "--format", "jsonl", path)
			all[name+loans] = said("box", "list", "--format", "csv", "--diary", path)
		case strings.HasPrefix(end, ".db-"): // gone by now, unless a card keeps its journal
			if _, err := os.Stat(path); err == nil {
				all[name] = ""
			}
		case e.IsDir():
			all[name] = ""
		default:
			b, err := os.ReadFile(path)
			all[name] = moment.ReplaceAllString(string(b), "…")
			return err
		}
		return nil
	})
	if err != nil {
		t.Fatal(err)
	}
	return all
}

// integrity lets SQLite check a diary.
func integrity(t *testing.T, path string) {
	t.Helper()
	db, err := sql.Open("sqlite", path)
	if err != nil {
		t.Fatal(err)
	}
	defer db.Close()
	var found string
	if err := db.QueryRow("PRAGMA integrity_check").Scan(&found); err != nil || found != "ok" {
		t.Errorf("the integrity of %s: %s, %v", path, found, err)
	}
}

// Whatever writes files is killed at random moments. Then every file is the old one or
// the new one, whole, and the next start does what one without a kill does: it asks
// nothing, and the folder holds the same and no more.
func TestRealWritersKilled(t *testing.T) {
	_, each := kills(t)
	var kills, late atomic.Int32
	t.Cleanup(func() { t.Logf("%d kills, %d of them when all was done", kills.Load(), late.Load()) })
	for _, w := range writers {
		t.Run(w.name, func(t *testing.T) {
			t.Parallel()
			start := w.prepared(t)
			whole := copied(t, start)
			took, calls := w.finish(t, whole), w.calls(t, copied(t, start))
			before, after := holds(t, start), holds(t, whole)
			for range each {
				dir := copied(t, start)
				how := w.killed(t, dir, took, calls)
				kills.Add(1)
				left := holds(t, copied(t, dir)) // who looks at a diary tidies it
				if maps.Equal(left, after) {
					late.Add(1)
					continue
				}
				wantWhole(t, how, left, before, after)
				text, err := w.command(t, dir).CombinedOutput()
				now := holds(t, dir)
				// A card that was loaded, but for the clinic's knowing it, is refused; then the clinic knows.
				if err != nil && !maps.Equal(now, after) {
					t.Errorf("%s, the next start: %v\n%s", how, err, text)
				}
				wantSame(t, how, now, after)
				os.RemoveAll(dir)
			}
		})
	}
}

// copied returns a copy of a folder.
func copied(t *testing.T, dir string) string {
	t.Helper()
	to := t.TempDir()
	if err := os.CopyFS(to, os.DirFS(dir)); err != nil {
		t.Fatal(err)
	}
	return to
}

// wantWhole checks that each file is the one before or the one after. A new diary may have
// a part of the sessions: each file that is merged into it comes by itself. And a card
// may say that it is being loaded.
func wantWhole(t *testing.T, how string, left, before, after map[string]string) {
	t.Helper()
	for name, new := range after {
		old, was := before[name]
		now, is := left[name]
		part := filepath.Ext(name) == ".db" && !was && !slices.ContainsFunc(strings.Split(now, "\n"),
			func(line string) bool { return !strings.Contains(new, line) })
		part = part || strings.Contains(now, "state: loading")
		if was && !is || is && now != new && !(was && now == old) && !part && !strings.HasSuffix(name, loans) {
			t.Errorf("%s: %s is neither the old one nor the new one: %.100q", how, name, now)
		}
	}
}

// wantSame checks what a folder holds.
func wantSame(t *testing.T, how string, got, want map[string]string) {
	t.Helper()
	for name := range want {
		if now, is := got[name]; !is || now != want[name] {
			t.Errorf("%s, then started again: %s is\n%.1000s\nwant\n%.1000s", how, name, now, want[name])
		}
	}
	for name := range got {
		if _, is := want[name]; !is {
			t.Errorf("%s, then started again: %s is left", how, name)
		}
	}
}
