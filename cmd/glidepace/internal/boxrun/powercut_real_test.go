//go:build real && linux

package boxrun

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
	"slices"
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

// writes are what a session writes into the diary, each told from the lines that
// the box prints before and after it, and when it comes after the first of them.
var writes = []struct {
	before string
	due    time.Duration
	after  string
}{
	{"^pressed$", 0, "^running$"},
	{"^running$", 3 * time.Second, "^recorded repetition 1 of 3$"},
	{"^recorded repetition 1 of 3$", 2 * time.Second, "^recorded repetition 2 of 3$"},
	{"^recorded repetition 2 of 3$", 2 * time.Second, "^recorded repetition 3 of 3$"},
	{"^recorded repetition 3 of 3$", 0, "^asking "}, // the end
}

const (
	cutsOfAWrite = 6                      // the last ones before and the first after the line that tells of it
	between      = 5 * time.Millisecond   // two of them, at most
	early        = 200 * time.Millisecond // before a write is due, since the line before it came late
)

// The power is cut again and again: at some time before each write and all
// through it. The machine goes on from each cut, and the disk is copied as it would
// have been left. In every copy the diary opens and has all that was said to be
// recorded. The next session is on such a disk, which the box itself has to mend:
// if possible, one on which a write was left half done.
func TestPowerCut(t *testing.T) {
	for n, disk := range []string{"vfat", "ext4"} {
		t.Run(disk, func(t *testing.T) {
			t.Parallel()
			card := newCard(t, disk, uint64(n))
			began := time.Now()
			cuts, halves, none := 0, 0, 0
			var past []cutOff // sessions that are in the diary
			for _, mended := range []int{0, 2, 4, 0} {
				var next []cutOff
				for _, c := range card.session(t) {
					list, half, err := card.diary(t, c.image)
					cuts++
					if half {
						halves++
					}
					begun := append(slices.Clip(past), c)
					if !c.running && len(list) == len(past) {
						none++
						begun = past
					}
					if err != nil || len(list) != len(begun) {
						t.Fatalf("after cut %d there are %d sessions, %d were begun: %v", cuts, len(list), len(begun), err)
					}
					for k, s := range list { // all of them, in order
						recorded := begun[k].recorded
						if s.Done.Repetitions < recorded || s.Outcome != sessions.Interrupted && !(s.Outcome == sessions.Completed && recorded == 3) {
							t.Errorf("after cut %d: session %d says %d repetitions and %q, %d were recorded", cuts, k+1, s.Done.Repetitions, s.Outcome, recorded)
						}
					}
					if c.write == mended && (card.image == "" || half) {
						card.image, next = c.image, begun
					}
				}
				past = next
			}
			t.Logf("%s: %d cuts in %v, %d of them left a write half done, %d came before the session was in the diary",
				disk, cuts, time.Since(began).Round(time.Second), halves, none)
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
			"box.yaml": []byte(boxFile), "session.yaml": []byte(cutSession), "diary.db": blankDiary(t)}),
		random: rand.New(rand.NewPCG(seed, 5))}
}

// blankDiary is a diary without sessions, as a card has it that was loaded.
func blankDiary(t *testing.T) []byte {
	t.Helper()
	name := filepath.Join(t.TempDir(), "diary.db")
	d, err := diary.Options{Card: true}.Open(name)
	if err == nil {
		err = d.Close()
	}
	content, failed := os.ReadFile(name)
	if err := errors.Join(err, failed); err != nil {
		t.Fatal(err)
	}
	return content
}

// The host may be so busy that a disk takes long to answer.
var (
	recorded = regexp.MustCompile(`^recorded repetition (\d+) of 3$`)
	usual    = regexp.MustCompile("^(ready|session|Done): |^pressed$|^running$|^asking |keeps it from answering$")
)

// cutOff is what was seen of a session until the power was cut.
type cutOff struct {
	image    string // the disk then
	write    int    // the one it came in or before
	running  bool   // the session, which is in the diary then
	recorded int    // repetitions
}

// session boots the machine, starts a session and returns the cuts in it. The
// card has no image then.
func (c *card) session(t *testing.T) (all []cutOff) {
	t.Helper()
	// This machine's clock is the host's, and the host may be busy.
	m := onTheBox("", []boardtest.Step{{On: "^ready: ", After: tap, Low: buttonPin}, {High: buttonPin}})
	m.Files, m.Args = nil, []string{"box", "run", "/data/box.yaml"}
	m.Disk, m.DiskType = c.image, c.kind
	c.image = ""
	machine := m.Start(t)
	defer machine.Cut()
	dir, made := t.TempDir(), 0
	for i, w := range writes {
		after := regexp.MustCompile(w.after)
		cut := func() (over bool) {
			made++
			seen := cutOff{image: filepath.Join(dir, fmt.Sprint("disk", made)), write: i}
			for _, l := range machine.CutInto(seen.image).Console {
				over = over || after.MatchString(l.Text)
				seen.running = seen.running || l.Text == "running"
				m := recorded.FindStringSubmatch(l.Text)
				switch {
				case m != nil:
					seen.recorded, _ = strconv.Atoi(m[1])
				case !usual.MatchString(l.Text):
					t.Errorf("the box says %q", l.Text)
				}
			}
			all = append(all, seen)
			return over
		}
		machine.Await(w.before)
		wait := max(0, w.due-early)
		at := time.Duration(c.random.Int64N(int64(wait) + 1))
		time.Sleep(at)
		cut()
		time.Sleep(wait - at)
		first := len(all)
		for over := false; !over; {
			time.Sleep(time.Duration(c.random.Int64N(int64(between))))
			over = cut()
			if len(all) > first+cutsOfAWrite { // not one of the last
				os.Remove(all[first].image)
				all = slices.Delete(all, first, first+1)
			}
		}
	}
	return all
}

// diary copies the diary and its journal out of an image and reads them.
// The image stays as it is. Half says that the journal holds what a write that
// was cut off had changed (https://www.sqlite.org/fileformat2.html#the_rollback_journal).
func (c *card) diary(t *testing.T, image string) (list []diary.Session, half bool, err error) {
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
			_ = exec.Command("mcopy", "-i", image, "::"+name, to).Run() // one may not be there
			continue
		}
		mended := filepath.Join(dir, "mended")
		if _, err := os.Stat(mended); errors.Is(err, fs.ErrNotExist) {
			run(0, "cp", "--sparse=always", image, mended)
			run(1, "e2fsck", "-p", mended) // 1: it mended something
		}
		run(0, "debugfs", "-R", fmt.Sprintf("dump /%s %s", name, to), mended)
	}
	journal, _ := os.ReadFile(filepath.Join(dir, "diary.db-journal"))
	half = bytes.HasPrefix(journal, []byte{0xd9, 0xd5, 0x05, 0xf9, 0x20, 0xa1, 0x63, 0xd7})
	d, err := diary.Options{Card: true}.OpenExisting(filepath.Join(dir, "diary.db"))
	if none := (*diary.NoDiaryError)(nil); errors.As(err, &none) {
		return nil, half, nil // it begins with the first session
	}
	if err != nil {
		return nil, half, err
	}
	defer d.Close()
	list, err = d.List(diary.Filter{})
	return list, half, err
}
