//go:build real && linux

package main

import (
	"bytes"
	"errors"
	"fmt"
	"io/fs"
	"math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strconv"
	"strings"
	"testing"
	"time"

	"glidepace/devices/boardtest"
	"glidepace/sessions"
	"glidepace/sessions/diary"
)

// cutSession is done as fast as any may be: its first repetition ends after
// 3 s, each later one 2 s after the one before, so all of it after 7 s. Sessions
// that were cut off make it no shorter and no slower.
const cutSession = `glidepace: 1
posture: none
title: On the box
patient: DEMO-1
breath: {inhale: 1s, exhale: 1s, pause: 0s}
set_up: 0s
exercises: [{glide: median-wrist, side: right, reps: 3, rest: 0s}]
ease: {slower: 0%, fewer_reps: 0}
`

const (
	cuts       = 20                      // for each file system
	secondEnds = 5 * time.Second         // after the start
	allEnds    = 7 * time.Second         //
	writing    = 30 * time.Millisecond   // how long it takes then, as a rule, until all is written
	beginning  = 1200 * time.Millisecond // from the press until the session is in the diary
)

// moment is when in a session the power is cut.
type moment int

const (
	atAnyTime   moment = iota // until a little after its end
	inAWrite                  // of the second repetition
	asItBegins                // while the session is written into the diary
	asItEnds                  // while its end is
	momentKinds = 4
)

// The power is cut again and again, each time on the disk as the last cut left
// it, which the box itself has to mend. After every cut the diary opens and has
// all that was said to be recorded.
func TestPowerCut(t *testing.T) {
	for n, disk := range []string{"vfat", "ext4"} {
		t.Run(disk, func(t *testing.T) {
			t.Parallel()
			card := newCard(t, disk, uint64(n))
			began := time.Now()
			var seen []cutOff // sessions that are in the diary
			all, more, halves, none := 0, 0, 0, 0
			for i := range cuts {
				c := card.cut(t, moment(i%momentKinds))
				list, half, err := card.sessions(t)
				if half {
					halves++
				}
				if err == nil && len(list) == len(seen) && !c.running {
					none++ // it was not in the diary yet
					continue
				}
				seen = append(seen, c)
				if err != nil || len(list) != len(seen) {
					t.Fatalf("after cut %d there are %d sessions, %d were begun: %v", i+1, len(list), len(seen), err)
				}
				for k, s := range list { // all of them, in order
					c := seen[k]
					if s.Done.Repetitions < c.recorded || s.Outcome != sessions.Interrupted && !(s.Outcome == sessions.Completed && c.recorded == 3) {
						t.Errorf("after cut %d: session %d says %d repetitions and %q, %d were recorded", i+1, k+1, s.Done.Repetitions, s.Outcome, c.recorded)
					}
				}
				all += c.recorded
				more += list[len(list)-1].Done.Repetitions - c.recorded
			}
			t.Logf("%s: %d cuts in %v, %d of them left a write half done, %d came before the session was in the diary; %d repetitions recorded, all kept, and %d more of which no line was seen",
				disk, cuts, time.Since(began).Round(time.Second), halves, none, all, more)
		})
	}
}

// card is the disk of a box.
type card struct {
	kind, image string
	random      *rand.Rand
}

func newCard(t *testing.T, kind string, seed uint64) *card {
	t.Helper()
	t.Logf("random seed %d", seed)
	return &card{kind: kind,
		image: boardtest.Format(t, kind, 64, map[string][]byte{
			"box.yaml": []byte(boxFile), "session.yaml": []byte(cutSession), "diary.db": nil}),
		random: rand.New(rand.NewPCG(seed, 5))}
}

var (
	recorded = regexp.MustCompile(`^recorded repetition (\d+) of 3$`)
	usual    = regexp.MustCompile("^(ready|session|Done): |^pressed$|^running$|^asking ")
)

// cutOff is what was seen of a session until the power was cut.
type cutOff struct {
	running  bool // and so in the diary
	recorded int  // repetitions
}

// cut boots the machine, starts a session and takes the power away.
func (c *card) cut(t *testing.T, when moment) (seen cutOff) {
	t.Helper()
	// This machine's clock is the host's, and the host may be busy.
	m := onTheBox("", []boardtest.Step{{On: "^ready: ", After: tap, Low: buttonPin}, {High: buttonPin}})
	m.Files, m.Args = nil, []string{"box", "run", "/data/box.yaml"}
	m.Disk, m.DiskType = c.image, c.kind
	running := m.Start(t)
	line, from, span := "^running$", time.Duration(0), allEnds+time.Second
	switch when {
	case inAWrite:
		from, span = secondEnds, writing
	case asItBegins:
		line, span = "^pressed$", beginning
	case asItEnds:
		from, span = allEnds, writing
	}
	running.Await(line)
	began := time.Now()
	if when == inAWrite {
		running.Await(recorded.String()) // one at least, however busy the host is
	}
	time.Sleep(time.Until(began.Add(from + time.Duration(c.random.Int64N(int64(span))))))
	r := running.Cut()
	for _, l := range r.Console {
		seen.running = seen.running || l.Text == "running"
		m := recorded.FindStringSubmatch(l.Text)
		switch {
		case m != nil:
			seen.recorded, _ = strconv.Atoi(m[1])
		case !usual.MatchString(l.Text):
			t.Errorf("the box says %q", l.Text)
		}
	}
	return seen
}

// sessions copies the diary and its journal out of the image and reads them.
// The image stays as it is. Half says that the journal holds what a write that
// was cut off had changed (https://www.sqlite.org/fileformat2.html#the_rollback_journal).
func (c *card) sessions(t *testing.T) (list []diary.Session, half bool, err error) {
	t.Helper()
	dir := t.TempDir()
	run := func(allowed int, name string, args ...string) {
		t.Helper()
		out, err := exec.Command(name, args...).CombinedOutput()
		var exit *exec.ExitError
		if err != nil && !(errors.As(err, &exit) && exit.ExitCode() <= allowed) {
			t.Fatalf("%s %s: %v\n%s", name, strings.Join(args, " "), err, out)
		}
	}
	for _, name := range []string{"diary.db", "diary.db-journal"} {
		to := filepath.Join(dir, name)
		if c.kind == "vfat" {
			_ = exec.Command("mcopy", "-i", c.image, "::"+name, to).Run() // one may not be there
			continue
		}
		mended := filepath.Join(dir, "mended")
		if _, err := os.Stat(mended); errors.Is(err, fs.ErrNotExist) {
			run(0, "cp", "--sparse=always", c.image, mended)
			run(1, "e2fsck", "-p", mended) // 1: it mended something
		}
		run(0, "debugfs", "-R", fmt.Sprintf("dump /%s %s", name, to), mended)
	}
	journal, _ := os.ReadFile(filepath.Join(dir, "diary.db-journal"))
	half = bytes.HasPrefix(journal, []byte{0xd9, 0xd5, 0x05, 0xf9, 0x20, 0xa1, 0x63, 0xd7})
	d, err := diary.Options{Card: true}.OpenExisting(filepath.Join(dir, "diary.db"))
	if err != nil {
		return nil, half, err
	}
	defer d.Close()
	list, err = d.List(diary.Filter{})
	return list, half, err
}
