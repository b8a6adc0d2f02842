//go:build unix

package loan

import (
	"errors"
	"os"
	"path/filepath"
	"syscall"
	"testing"
)

// loanNames are names that a loan uses on a card.
var loanNames = []string{
	"box.yaml", "loan.yaml", "session.yaml", "session.yaml.new", "spoken/out.wav", "spoken/out.wav.new", "diary.db", "diary.db.new", "diary.db-journal", "diary.db-wal",
	"diary.db-shm", "diary.db.merged", "diary.db.a000000000.lock",
}

// disguises put something on a card that is no file of the card's own, and what the
// error says of it. Of the links there is a file outside.
var disguises = map[string]struct {
	put  func(outside, name string) error
	says string
}{
	"symbolic link": {os.Symlink, "is a link to another place"},
	"hard link":     {os.Link, "has another name too"},
	"pipe":          {func(_, name string) error { return syscall.Mkfifo(name, 0o600) }, "is not a file"},
	"device":        {func(_, name string) error { return os.Symlink("/dev/zero", name) }, "is a link"},
	"folder":        {func(_, name string) error { return os.Mkdir(name, 0o700) }, "is not a file"},
	"5 GB": {func(_, name string) error {
		return errors.Join(os.WriteFile(name, nil, 0o600), os.Truncate(name, 5<<30))
	}, "is larger than"},
}

// A card on which a name of the loan's leads to another file, or to what is no file,
// is neither loaded nor brought back, and nothing outside of it is touched.
func TestNotOwn(t *testing.T) {
	lent := t.TempDir()
	lend(t, lent)
	notOwn(t, lent, t.TempDir)
}

// notOwn disguises each file of the loan, in copies of a card in new folders.
func notOwn(t *testing.T, lent string, folder func() string) {
	for kind, disguise := range disguises {
		for _, name := range loanNames {
			for _, loaded := range []bool{true, false} {
				top, what := folder(), kind+" "+name
				card, outside, clinic := filepath.Join(top, "card"), filepath.Join(top, "outside"), newClinic(t)
				do(t, os.MkdirAll(filepath.Join(card, "spoken"), 0o700))
				if loaded {
					do(t, os.RemoveAll(card), os.CopyFS(card, os.DirFS(lent)))
				}
				text := "somebody else's"
				if own, err := os.ReadFile(filepath.Join(card, name)); err == nil {
					text = string(own)
				}
				do(t, os.WriteFile(outside, []byte(text), 0o600), os.RemoveAll(filepath.Join(card, name)), disguise.put(outside, filepath.Join(card, name)))
				var err error
				if loaded {
					_, err = Back(card, clinic, anyLoan)
				} else {
					_, err = Load(card, newClinic(t), sample("K-311"))
				}
				refused(t, what, err, filepath.Join(card, name), disguise.says)
				if !errors.As(err, new(*NotOwnError)) {
					t.Errorf("%s: %v", what, err)
				}
				if now, err := os.ReadFile(outside); err != nil || string(now) != text {
					t.Errorf("%s: what it leads to is changed: %v", what, err)
				}
			}
		}
	}
}

// A folder on the card that leads out of it is as bad as a link in the place of a file.
func TestFolderThatIsALink(t *testing.T) {
	outside, card := t.TempDir(), t.TempDir()
	boxFile := boxYAML + "diary: d/diary.db\n"
	do(t, os.Symlink(outside, filepath.Join(card, "d")))
	put(t, card, "box.yaml", boxFile)
	for _, diary := range []bool{false, true} {
		if diary {
			lend(t, outside)
			do(t, os.Remove(filepath.Join(outside, "box.yaml")), os.Remove(filepath.Join(outside, RecordName)))
		}
		before := snapshot(t, outside)
		l := sample("K-204")
		l.Box = []byte(boxFile)
		_, loaded := Load(card, newClinic(t), l)
		_, back := Back(card, newClinic(t), anyLoan)
		for _, err := range []error{loaded, back} {
			refused(t, "a folder", err, filepath.Join(card, "d")+" is a link to another place")
		}
		same(t, "outside", snapshot(t, outside), before)
	}
}
