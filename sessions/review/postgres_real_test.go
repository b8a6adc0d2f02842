//go:build real

package review

import (
	"bytes"
	"fmt"
	"os"
	"os/exec"
	"os/user"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"testing"

	"glidepace/sessions"
	"glidepace/sessions/diary"
	"glidepace/sessions/diary/diarytest"
)

// postgres starts a database server in a folder of its own, until the end of the test, and
// returns the
// folder, from which it can read, and what runs psql. The server refuses to run as root, so it runs as nobody.
func postgres(t *testing.T) (dir string, psql func(args ...string) string) {
	t.Helper()
	found, err := filepath.Glob("/usr/lib/postgresql/*/bin/initdb")
	if err != nil || len(found) == 0 {
		t.Fatal("no postgresql is installed", err)
	}
	bin := filepath.Dir(found[len(found)-1])
	dir, err = os.MkdirTemp("/tmp", "glidepace-postgres-") // a socket's path is short
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { os.RemoveAll(dir) })
	as := func(name string, args ...string) *exec.Cmd {
		c := exec.Command(name, args...)
		if os.Getuid() == 0 {
			c = exec.Command("setpriv", append([]string{"--reuid", "nobody", "--regid", "nogroup", "--clear-groups", name}, args...)...)
		}
		c.Dir, c.Env = dir, []string{"PATH=" + os.Getenv("PATH"), "HOME=" + dir, "LC_ALL=C.UTF-8", "PGHOST=" + dir, "PGUSER=clinic", "PGDATABASE=postgres", "TZ=UTC"}
		return c
	}
	run := func(name string, args ...string) string {
		t.Helper()
		var errs bytes.Buffer
		c := as(name, args...)
		c.Stderr = &errs
		out, err := c.Output()
		if err != nil {
			t.Fatalf("%s %q: %v\n%s", name, args, err, errs.String())
		}
		return string(out)
	}
	if os.Getuid() == 0 {
		nobody, err := user.Lookup("nobody")
		if err != nil {
			t.Fatal(err)
		}
		uid, _ := strconv.Atoi(nobody.Uid)
		gid, _ := strconv.Atoi(nobody.Gid)
		if err := os.Chown(dir, uid, gid); err != nil {
			t.Fatal(err)
		}
	}
	data := filepath.Join(dir, "data")
	run(filepath.Join(bin, "initdb"), "-D", data, "-U", "clinic", "-A", "trust", "-E", "UTF8", "--no-locale", "-N")
	pgctl := filepath.Join(bin, "pg_ctl")
	run(pgctl, "-D", data, "-w", "-l", filepath.Join(dir, "log"), "-o", "-c listen_addresses='' -c fsync=off -k "+dir, "start")
	t.Cleanup(func() { as(pgctl, "-D", data, "-w", "-m", "immediate", "stop").Run() })
	return dir, func(args ...string) string {
		return run("psql", append([]string{"-X", "-q", "-t", "-A", "-v", "ON_ERROR_STOP=1"}, args...)...)
	}
}

// What a database makes of 100,000 sessions are the same figures as those of a review, to
// the last digit.
func TestPostgresHasTheSameFigures(t *testing.T) {
	shared, psql := postgres(t)
	today, _ := sessions.ParseDate("2026-11-28")
	dir := t.TempDir()
	path := filepath.Join(dir, "diary.db")
	diarytest.Write(t, path, diarytest.Clinic{Seed: 1, Sessions: 100_000, Until: today.AddDays(-3)}.All())
	d, err := diary.OpenExisting(path)
	if err != nil {
		t.Fatal(err)
	}
	defer d.Close()
	var lines bytes.Buffer
	if err := diary.ExportJSONL(&lines, d.Unordered(diary.Filter{})); err != nil {
		t.Fatal(err)
	}
	courses, err := Courses(Read(d, diary.Filter{}), Options{Today: today})
	if err != nil {
		t.Fatal(err)
	}
	var weeks, patients []string
	unknown := 0 // of them, without a dose or a date
	for _, c := range courses {
		course := "patient " + c.Patient
		for _, w := range c.Weeks {
			weeks = append(weeks, line(course, w.Year, w.Week, w.Sessions.Done, w.Sessions.Of, w.Sessions.Share, w.Sessions.Low, w.Sessions.High,
				w.Repetitions.Done, w.Repetitions.Of, w.Repetitions.Share, w.Counts.Completed, w.Counts.EndedEarly, w.Counts.Interrupted,
				w.Counts.Stopped, w.Counts.Extra, w.Stops))
		}
		if a := c.Adherence; a != nil {
			patients = append(patients, line(course, a.Sessions.Done, a.Sessions.Of, a.Sessions.Share, a.Sessions.Low, a.Sessions.High,
				a.Repetitions.Done, a.Repetitions.Of, a.Repetitions.Share, len(c.Stops)))
		} else {
			unknown++
			patients = append(patients, course+strings.Repeat("|", 9)+strconv.Itoa(len(c.Stops)))
		}
	}
	script, err := os.ReadFile("../diary/postgres.sql")
	if err != nil {
		t.Fatal(err)
	}
	for name, content := range map[string][]byte{"postgres.sql": script, "sessions.jsonl": lines.Bytes()} {
		if err := os.WriteFile(filepath.Join(shared, name), content, 0o644); err != nil {
			t.Fatal(err)
		}
	}
	psql("-f", filepath.Join(shared, "postgres.sql"))
	for range 2 { // the second time changes nothing
		psql("-c", `\copy glidepace.lines from `+filepath.Join(shared, "sessions.jsonl")+` with (format csv, quote e'\x01', delimiter e'\x02')`)
		psql("-c", "CALL glidepace.load()")
	}
	psql("-c", "ANALYZE")
	for view, want := range map[string][]string{"weeks": weeks, "patients": patients} {
		got := strings.Split(strings.TrimSpace(psql("-c", "SET glidepace.today = '"+today.String()+"'", "-c", "SELECT * FROM glidepace."+view)), "\n")
		slices.Sort(got)
		slices.Sort(want)
		if len(want) < 1000 || unknown == 0 || unknown == len(courses) || len(got) != len(want) {
			t.Errorf("%s: %d lines, want %d", view, len(got), len(want))
		}
		for i := range min(len(got), len(want)) {
			if got[i] != want[i] {
				t.Fatalf("%s: %s\nwant %s", view, got[i], want[i])
			}
		}
	}
}

// line writes values as psql does.
func line(values ...any) string {
	var cells []string
	for _, v := range values {
		if f, ok := v.(float64); ok {
			v = strconv.FormatFloat(f, 'g', -1, 64)
		}
		cells = append(cells, fmt.Sprint(v))
	}
	return strings.Join(cells, "|")
}
