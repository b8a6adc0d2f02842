//go:build real && linux

package loan

import (
	"errors"
	"fmt"
	"io/fs"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strings"
	"syscall"
	"testing"
	"time"

	"glidepace/devices/boardtest"
	"glidepace/devices/box"
)

// mount makes a folder with a file system of its own. It takes root.
func mount(t *testing.T, options string) string {
	t.Helper()
	dir := t.TempDir()
	do(t, syscall.Mount("tmpfs", dir, "tmpfs", 0, options))
	t.Cleanup(func() { syscall.Unmount(dir, 0) })
	return dir
}

func TestReadOnlyCard(t *testing.T) {
	card, clinic := mount(t, "size=4m"), otherClinic(t)
	done := lend(t, card)
	before := snapshot(t, card)
	do(t, syscall.Mount("", card, "", syscall.MS_REMOUNT|syscall.MS_RDONLY, ""))
	for range 2 {
		r, err := Back(card, clinic, anyLoan)
		refused(t, "a card that is read-only", err, "but the card is not wiped to the end")
		if !errors.Is(err, syscall.EROFS) || !r.Merged {
			t.Errorf("%v, %+v", err, r)
		}
		same(t, "wiped", r.Wiped, []string(nil))
		same(t, "left", r.Left, []string{"diary.db", "diary.db-journal", "session.yaml", "spoken/breathe-in.wav", "spoken/out.wav", RecordName})
		same(t, "at the clinic", inDiary(t, clinic), done)
		same(t, "on the card", snapshot(t, card), before)
	}
	do(t, syscall.Mount("", card, "", syscall.MS_REMOUNT, ""))
	if r := back(t, card, clinic); r.Added != 0 || len(r.Sessions) != 2 {
		t.Errorf("%+v", r)
	}
	holds(t, "on the card", card, box.FileName)

	do(t, syscall.Mount("", card, "", syscall.MS_REMOUNT|syscall.MS_RDONLY, ""))
	if _, err := Load(card, otherClinic(t), sample("K-311")); !errors.Is(err, syscall.EROFS) || !strings.Contains(err.Error(), "cannot be written") {
		t.Errorf("loaded: %v", err)
	}
}

// A card in a folder of its volume: what is beside the folder is reported and
// stays, and the clinic's diary may be nowhere on the volume.
func TestCardInAFolderOfItsVolume(t *testing.T) {
	top, clinic := mount(t, "size=4m"), otherClinic(t)
	card, bin := filepath.Join(top, "glidepace"), filepath.Join(top, ".Trash-1000", "files")
	do(t, os.Mkdir(card, 0o700))
	done := lend(t, card)
	put(t, bin, "session.yaml", fmt.Sprintf(sessionYAML, "K-204"))
	stray := filepath.Join(bin, "session.yaml")
	before := snapshot(t, top)
	link := filepath.Join(t.TempDir(), "link")
	do(t, os.Symlink(bin, link))
	for _, dir := range []string{top, bin, link} {
		_, err := Back(card, filepath.Join(dir, "clinic.db"), anyLoan)
		refused(t, "the clinic's diary in "+dir, err, "would be on the card")
	}
	same(t, "on the card", snapshot(t, top), before)

	want := []Trace{{stray, patientCode, false}, {stray, "the session's title", false}}
	for i := range 2 {
		r := back(t, card, clinic)
		same(t, "traces", r.Traces, want)
		if r.Volume != top || r.Outside != 1 || r.Cut || r.Again != (i == 1) {
			t.Errorf("%+v", r)
		}
	}
	same(t, "at the clinic", inDiary(t, clinic), done)
	holds(t, "on the card", top, ".Trash-1000/files/session.yaml", "glidepace/box.yaml", "glidepace/diary.db.merged", "glidepace/loan.yaml")
	do(t, os.Remove(stray))
	same(t, "traces", back(t, card, clinic).Traces, []Trace(nil))
	holds(t, "on the card", top, "glidepace/box.yaml")
}

// A folder that is root's alone, as a repair of a card leaves it, keeps nobody
// from bringing the card back.
func TestFolderOfRoot(t *testing.T) {
	const nobody = 65534
	dir, err := os.MkdirTemp("", "loan")
	do(t, err)
	t.Cleanup(func() { os.RemoveAll(dir) })
	card := filepath.Join(dir, "card")
	do(t, os.Mkdir(card, 0o700))
	clinic := filepath.Join(dir, "clinic.db")
	loadFrom(t, clinic, card, "K-204")
	done := use(t, card, "K-204")
	exe, err := os.Executable()
	do(t, err)
	program, err := os.ReadFile(exe)
	do(t, err, os.WriteFile(filepath.Join(dir, "program"), program, 0o755))
	do(t, filepath.WalkDir(dir, func(name string, _ fs.DirEntry, err error) error {
		return errors.Join(err, os.Chown(name, nobody, nobody))
	}))
	do(t, os.Mkdir(filepath.Join(card, "lost+found"), 0o700))

	c := exec.Command(filepath.Join(dir, "program"))
	c.SysProcAttr = &syscall.SysProcAttr{Credential: &syscall.Credential{Uid: nobody, Gid: nobody}}
	c.Env = append(os.Environ(), fmt.Sprintf("%s=back 0 %s %s", partVariable, card, clinic))
	if text, err := c.CombinedOutput(); err != nil {
		t.Fatalf("%v: %s", err, text)
	}
	same(t, "at the clinic", inDiary(t, clinic), done)
	holds(t, "on the card", card, box.FileName)
}

// A card with room for more and more, until all is on it.
func TestFullCard(t *testing.T) {
	const page = 4 << 10
	for room := 0; ; room++ {
		card, clinic := mount(t, "size=512k"), otherClinic(t)
		ballast := filepath.Join(card, "ballast")
		err := os.WriteFile(ballast, make([]byte, 512<<10-room*page), 0o600)
		if room > 0 {
			do(t, err)
		}
		_, full := Load(card, otherClinic(t), sample("K-204"))
		loan, err := Read(card)
		do(t, err)
		if full == nil {
			if loan.Loading {
				t.Error("a card that is loaded says it is not")
			}
			do(t, os.Remove(ballast))
			done := use(t, card, "K-204")
			if err := os.WriteFile(ballast, make([]byte, 512<<10), 0o600); !errors.Is(err, syscall.ENOSPC) {
				t.Errorf("the card is not full: %v", err)
			}
			back(t, card, clinic) // which needs no room
			same(t, "at the clinic", inDiary(t, clinic), done)
			if room < 5 {
				t.Errorf("all was loaded into %d pages", room)
			}
			return
		}
		if !strings.Contains(full.Error(), card) || !errors.Is(full, syscall.ENOSPC) && !strings.Contains(full.Error(), "full") {
			t.Errorf("room for %d pages: %v", room, full)
		}
		if loan != nil && !loan.Loading {
			t.Errorf("room for %d pages: a card that is not loaded says it is: %v", room, full)
		}
		do(t, os.Remove(ballast))
		load(t, card, "K-204")
	}
}

// Where the clinic's disk is full nothing leaves the card.
func TestFullClinic(t *testing.T) {
	card, clinic := t.TempDir(), mount(t, "size=512k")
	ballast, db := filepath.Join(clinic, "ballast"), filepath.Join(clinic, "clinic.db")
	loadFrom(t, db, card, "K-204")
	done := use(t, card, "K-204")
	before := snapshot(t, card)
	if err := os.WriteFile(ballast, make([]byte, 512<<10), 0o600); !errors.Is(err, syscall.ENOSPC) {
		t.Errorf("the disk is not full: %v", err)
	}
	if r, err := Back(card, db, anyLoan); err == nil || r.Merged {
		t.Errorf("merged into a full disk: %v", err)
	}
	same(t, "on the card", snapshot(t, card), before)
	do(t, os.Remove(ballast))
	back(t, card, db)
	same(t, "at the clinic", inDiary(t, db), done)
}

// changes are the system calls that change files.
var changes = []string{"openat", "write", "pwrite64", "fsync", "fdatasync", "ftruncate", "renameat", "renameat2",
	"unlink", "unlinkat", "mkdirat", "fchmodat", "flock"}

// killedAtCall is a killer whose operations are all calls of one kind that the
// program makes, the diary's too, on the thread that does the work: strace
// counts them by thread.
func killedAtCall(call string) killer {
	return func(t *testing.T, n int, part, card, clinic string) bool {
		t.Helper()
		exe, err := os.Executable()
		do(t, err)
		c := exec.Command("strace", "-f", "-qq", "-o", "/dev/null", "-e", "trace="+call,
			"-e", fmt.Sprintf("inject=%s:signal=SIGKILL:when=%d", call, n), exe)
		c.Env = append(os.Environ(), "GOMAXPROCS=1", fmt.Sprintf("%s=%s 0 %s %s", partVariable, part, card, clinic))
		text, err := c.CombinedOutput()
		if err != nil && len(text) > 0 {
			t.Fatalf("%s %d of %s: %v: %s", call, n, part, err, text)
		}
		return err != nil
	}
}

func TestLoadKilledAtEachCall(t *testing.T) { atEachCall(t, loadKilled) }
func TestBackKilledAtEachCall(t *testing.T) { atEachCall(t, backKilled) }

func atEachCall(t *testing.T, killed func(*testing.T, killer) int) {
	kills := 0
	for _, call := range changes {
		n := killed(t, killedAtCall(call))
		t.Logf("%s: killed at each of %d", call, n)
		kills += n
	}
	if kills < 2*leastOperations {
		t.Errorf("%d kills only", kills)
	}
}

// As TestNotOwn, on a card with a file system that has links of both kinds.
func TestNotOwnOnACard(t *testing.T) {
	top := t.TempDir()
	if text, err := exec.Command("mount", "-o", "loop", boardtest.Format(t, "ext4", 64, nil), top).CombinedOutput(); err != nil {
		t.Fatalf("%v: %s", err, text)
	}
	t.Cleanup(func() { syscall.Unmount(top, 0) })
	lent := filepath.Join(top, "lent")
	do(t, os.Mkdir(lent, 0o700))
	lend(t, lent)
	n := 0
	notOwn(t, lent, func() string {
		n++
		return filepath.Join(top, fmt.Sprint(n))
	})
}

// A card as boxes have them: with a FAT file system.
func TestVFAT(t *testing.T) {
	image := boardtest.Format(t, "vfat", 64, nil)
	clinic, err := os.ReadFile(otherClinic(t)) // each run is of another machine
	do(t, err)
	for _, c := range []struct {
		args string
		says []string
	}{
		{"box load /s.yaml --to /data --box /box.yaml --weeks 2", []string{"is ready for K-204", "In /data: box.yaml, session.yaml, diary.db, loan.yaml."}},
		{"box load /s.yaml --to /data --weeks 2", []string{"is lent to K-204"}},
		{"box back --from /data --into /root/clinic.db --loaded-elsewhere", []string{"Wiped from the card: diary.db", "Nothing of the loan is left in the folder /data (1 file looked"}},
	} {
		m := boardtest.Machine{Program: "glidepace/cmd/glidepace", Disk: image,
			Files: map[string][]byte{"/s.yaml": fmt.Appendf(nil, strings.Replace(sessionYAML, "sounds:", "#", 1), "K-204"), "/box.yaml": []byte(boxYAML), "/root/clinic.db": clinic}}
		m.Args, m.DiskType, m.Clock = strings.Fields(c.args), "vfat", time.Date(2026, 12, 1, 9, 30, 0, 0, time.UTC)
		said := strings.Join(m.Run(t).Texts(), "\n")
		for _, want := range c.says {
			if !strings.Contains(said, want) {
				t.Errorf("%s: %s\nwant %q", c.args, said, want)
			}
		}
	}
	m := boardtest.Probe("lock")
	m.Disk, m.DiskType = image, "vfat"
	if said := m.Run(t).Texts(); !slices.Equal(said, []string{"resource temporarily unavailable", "<nil>"}) {
		t.Errorf("the lock of the card's folder: %q", said)
	}
}
