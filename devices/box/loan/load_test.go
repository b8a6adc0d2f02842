package loan

import (
	"fmt"
	"os"
	"path/filepath"
	"testing"

	"glidepace/devices/box"
)

func TestLoadRefuses(t *testing.T) {
	for name, c := range map[string]struct {
		prepare func(card string, l *Contents)
		want    string
	}{
		"no box file":    {func(_ string, l *Contents) { l.Box = nil }, "no box file"},
		"a bad box file": {func(_ string, l *Contents) { l.Box = []byte("glidepace-box: 1\n") }, "name"},
		"no card":        {func(card string, _ *Contents) { os.RemoveAll(card) }, "the card's folder"},
		"a diary in use": {func(card string, _ *Contents) { use(t, card, "K-204") }, "diary.db has sessions (2)"},
		"not a diary":    {func(card string, _ *Contents) { put(t, card, "diary.db", "since my childhood days") }, "move it to a safe place, and load again"},
		"a diary that the card's own box file names": {func(card string, l *Contents) {
			use(t, card, "K-204")
			put(t, card, box.FileName, string(l.Box))
			l.Box = []byte(boxYAML + "diary: another.db\n")
		}, "has sessions (2)"},
		"a record that cannot be read": {func(card string, _ *Contents) { put(t, card, RecordName, "glidepace-loan: 7\n") }, "its version is 7"},
		"what an older version found":  {func(card string, _ *Contents) { put(t, card, olderName, "") }, "look for them in the files on the card, then remove it"},
		"a session file of no loan, where the card's own box file has it": {func(card string, _ *Contents) {
			put(t, card, "session.mine", "by hand")
			put(t, card, box.FileName, boxYAML+"session: session.mine\n")
		}, "session.mine is there already"},
		"a recording of no loan":      {func(card string, _ *Contents) { put(t, card, "spoken/out.wav", "by hand") }, "out.wav is there already"},
		"the box file of another box": {func(card string, _ *Contents) { put(t, card, box.FileName, "glidepace-box: 1\nname: Box 2\n") }, "of Box 2"},
		"a box file with other pins":  {func(card string, _ *Contents) { put(t, card, box.FileName, boxYAML+"light: {pin: GPIO23}\n") }, "light GPIO23"},
		"a recording outside":         {func(_ string, l *Contents) { l.Recordings[0].Path = "../in.wav" }, `"../in.wav" is not a path`},
		"two of one name":             {func(_ string, l *Contents) { l.Recordings[0].Path = "SESSION.yaml" }, "two files"},
		"named like the record":       {func(_ string, l *Contents) { l.Box = []byte(boxYAML + "session: Loan.yaml\n") }, "two files"},
	} {
		card, l := filepath.Join(t.TempDir(), "card"), sample("K-311")
		do(t, os.Mkdir(card, 0o700))
		c.prepare(card, &l)
		_, err := Load(card, newClinic(t), l)
		refused(t, name, err, c.want)
		if _, err := os.Stat(filepath.Join(card, "session.yaml")); err == nil {
			t.Errorf("%s: the card has a session file", name)
		}
	}
}

// The box file of another box is replaced when that is wanted, and that of the
// same box when something other than the pins has changed.
func TestLoadReplacesTheBoxFile(t *testing.T) {
	for was, replace := range map[string]bool{
		"glidepace-box: 1\nname: Box 2\n":        true,
		boxYAML + "buzzer: {pin: GPIO18}\n":      true,
		boxYAML + "buzzer: {lead: 40ms}\n":       false,
		"glidepace-box: 1\nname: [not, right]\n": false,
	} {
		card, l := t.TempDir(), sample("K-204")
		put(t, card, box.FileName, was)
		l.ReplaceBox = replace
		_, err := Load(card, newClinic(t), l)
		do(t, err)
		same(t, was, snapshot(t, card)[box.FileName], boxYAML)
	}
}

// A file of the clinic's on the card that is to be loaded is never touched, also
// where a record names the file there.
func TestLoadFromTheCard(t *testing.T) {
	begun := &Record{Loading: true, Files: Files{Session: "session.yaml", Diary: "diary.db"}}
	for _, record := range []string{"", string(begun.content())} {
		card, l := t.TempDir(), sample("K-204")
		l.Source = filepath.Join(card, "session.yaml")
		put(t, card, "session.yaml", string(l.Session))
		if record != "" {
			put(t, card, RecordName, record)
		}
		before := snapshot(t, card)
		_, err := Load(card, newClinic(t), l)
		refused(t, "from where it goes", err, "move the file to a folder of yours")
		same(t, fmt.Sprintf("with the record %q", record), snapshot(t, card), before)
	}
}
