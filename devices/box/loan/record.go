package loan

import (
	"bytes"
	"errors"
	"fmt"
	"io/fs"
	"os"
	slashed "path"
	"path/filepath"
	"slices"
	"strings"
	"time"

	"gopkg.in/yaml.v3"

	"glidepace/devices/box"
	"glidepace/sessions"
)

// Names of files in a card's folder, beside box.FileName.
const (
	RecordName = "loan.yaml"
	AgainName  = "look-again.yaml"
)

// Record is the record of a loan. It is written when the card is loaded, and is
// the last of the loan that is wiped from it.
type Record struct {
	Box     string        // the box's name
	Patient string        // the clinic's code, never a name
	Out     time.Time     // when the card was loaded, to the second
	Due     sessions.Date // when the box is due back
	Cleared bool          // whoever loaded it said that the clinician has cleared the neck glide

	// Loading says that the card was not loaded to the end: there may be files
	// of a loan on it, and the other fields but Files are empty.
	Loading bool

	Files Files
}

// Files are slash-separated paths in a card's folder of what belongs to
// the loan alone.
type Files struct {
	Session    string
	Diary      string
	Recordings []string
}

// recordFile is a loan record as it is written.
type recordFile struct {
	Version    int      `yaml:"glidepace-loan"`
	State      string   `yaml:"state"` // loading or out
	Box        string   `yaml:"box,omitempty"`
	Patient    string   `yaml:"patient,omitempty"`
	Out        string   `yaml:"out,omitempty"`
	Due        string   `yaml:"due,omitempty"`
	Cleared    bool     `yaml:"cleared,omitempty"`
	Session    string   `yaml:"session"`
	Diary      string   `yaml:"diary"`
	Recordings []string `yaml:"recordings,omitempty"`
}

const loading, out = "loading", "out"

// errDamaged says that a record was read, and makes no sense.
var errDamaged = errors.New("not as glidepace writes it")

// content is the loan record as it is written. Of a card that is being loaded
// it does not name the patient: the record is replaced then, and what is
// replaced stays in the card's free space.
func (l *Record) content() []byte {
	f := recordFile{Version: 1, State: loading, Session: l.Files.Session, Diary: l.Files.Diary, Recordings: l.Files.Recordings}
	if !l.Loading {
		f.State, f.Box, f.Patient = out, l.Box, l.Patient
		f.Out, f.Due, f.Cleared = l.Out.Format(time.RFC3339), l.Due.String(), l.Cleared
	}
	text, err := yaml.Marshal(f)
	if err != nil {
		panic(err) // strings and a number
	}
	return text
}

// Read reads the loan record in a card's folder; nil where there is none.
// The error is the system's, or says what is wrong in the record.
func Read(folder string) (*Record, error) {
	name := filepath.Join(folder, RecordName)
	text, err := os.ReadFile(name)
	if errors.Is(err, fs.ErrNotExist) {
		return nil, nil
	}
	if err != nil {
		return nil, err
	}
	l, err := parseRecord(text)
	if err != nil {
		return nil, fmt.Errorf("the loan record %s is %w: %w", name, errDamaged, err)
	}
	return l, nil
}

func parseRecord(text []byte) (*Record, error) {
	var f recordFile
	d := yaml.NewDecoder(bytes.NewReader(text))
	d.KnownFields(true)
	if err := d.Decode(&f); err != nil {
		return nil, err
	}
	l := &Record{Box: f.Box, Patient: f.Patient, Loading: f.State == loading, Cleared: f.Cleared, Files: Files{f.Session, f.Diary, f.Recordings}}
	switch {
	case f.Version != 1:
		return nil, fmt.Errorf("its version is %d, this glidepace knows 1", f.Version)
	case f.State != loading && f.State != out:
		return nil, fmt.Errorf("its state is %q", f.State)
	}
	if err := l.Files.check(); err != nil {
		return nil, err
	}
	if l.Loading {
		return l, nil
	}
	var wrong, wrong2 error
	l.Out, wrong = time.Parse(time.RFC3339, f.Out)
	l.Due, wrong2 = sessions.ParseDate(f.Due)
	return l, errors.Join(wrong, wrong2)
}

// check returns an error where a path leaves the folder, or where two are one
// on a FAT card, which knows no case.
func (f Files) check() error {
	taken := []string{box.FileName, RecordName, AgainName}
	for _, name := range slices.Concat([]string{f.Session, f.Diary}, f.Recordings) {
		if !filepath.IsLocal(filepath.FromSlash(name)) || slashed.Clean(name) != name || name == "." {
			return fmt.Errorf("%q is not a path in the card's folder", name)
		}
		if slices.ContainsFunc(taken, func(other string) bool { return strings.EqualFold(other, name) }) {
			return fmt.Errorf("two files on the card would be named %s; give one another name", name)
		}
		taken = append(taken, name)
	}
	return nil
}
