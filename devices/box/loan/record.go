package loan

import (
	"bytes"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path"
	"path/filepath"
	"slices"
	"strings"
	"time"

	"gopkg.in/yaml.v3"

	"glidepace/devices/box"
	"glidepace/sessions"
)

// RecordName is the name of the record in a card's folder.
const RecordName = "loan.yaml"

// Record is the record of a loan, in a file on the card.
type Record struct {
	Box     string        `yaml:"box,omitempty"`     // the box's name
	Patient string        `yaml:"patient,omitempty"` // the clinic's code, never a name
	Out     time.Time     `yaml:"out,omitempty"`     // when the card was loaded, to the second
	Due     sessions.Date `yaml:"-"`                 // when the box is due back
	Cleared bool          `yaml:"cleared,omitempty"` // whoever loaded it said that the clinician has cleared the neck glide

	// Loading says that the card was not loaded to the end: there may be files
	// of a loan on it, and the other fields but Box, Out and Files are empty.
	Loading bool `yaml:"-"`

	Files `yaml:",inline"`
}

// Files are slash-separated paths in a card's folder of what belongs to the
// loan alone.
type Files struct {
	Session    string   `yaml:"session"`
	Diary      string   `yaml:"diary"`
	Recordings []string `yaml:"recordings,omitempty"`
}

// recordFile is a record as it is written.
type recordFile struct {
	Version int    `yaml:"glidepace-loan"`
	State   string `yaml:"state"` // loading or out
	Due     string `yaml:"due,omitempty"`
	Record  `yaml:",inline"`
}

const loading, out = "loading", "out"

// errDamaged says that a record was read, and makes no sense.
var errDamaged = errors.New("not as glidepace writes it")

// content is the record as it is written. While the card is being loaded it
// does not name the patient: that record is replaced once all is loaded, and
// what is replaced stays in the card's free space.
func (r *Record) content() []byte {
	f := recordFile{Version: 1, State: out, Due: r.Due.String(), Record: *r}
	if r.Loading {
		f = recordFile{Version: 1, State: loading, Record: Record{Box: r.Box, Out: r.Out, Files: r.Files}}
	}
	text, err := yaml.Marshal(f)
	if err != nil {
		panic(err) // it is made of texts, a time and numbers
	}
	return text
}

// Read reads the record in a card's folder; nil where there is none. The error
// is the system's, or says what is wrong in the record.
func Read(folder string) (*Record, error) {
	root, err := os.OpenRoot(folder)
	if errors.Is(err, fs.ErrNotExist) {
		return nil, nil
	}
	if err != nil {
		return nil, err
	}
	defer root.Close()
	return (&card{dir: folder, root: root}).record()
}

func (c *card) record() (*Record, error) {
	text, err := c.read(RecordName, largestText)
	if errors.Is(err, fs.ErrNotExist) {
		return nil, nil
	}
	if err != nil {
		return nil, err
	}
	r, err := parseRecord(text)
	if err != nil {
		return nil, fmt.Errorf("the loan record %s is %w: %w", c.path(RecordName), errDamaged, err)
	}
	return r, nil
}

func parseRecord(text []byte) (*Record, error) {
	var f recordFile
	d := yaml.NewDecoder(bytes.NewReader(text))
	d.KnownFields(true)
	if err := d.Decode(&f); err != nil {
		return nil, err
	}
	r := &f.Record
	r.Loading = f.State == loading
	switch {
	case f.Version != 1:
		return nil, fmt.Errorf("its version is %d, this glidepace knows 1", f.Version)
	case !r.Loading && f.State != out:
		return nil, fmt.Errorf("its state is %q", f.State)
	case !r.Loading && r.Out.IsZero():
		return nil, errors.New("it does not say when the card was loaded")
	}
	if err := r.Files.check(); err != nil {
		return nil, err
	}
	var err error
	if !r.Loading {
		r.Due, err = sessions.ParseDate(f.Due)
	}
	return r, err
}

// check returns an error where a path leaves the folder, or where two are one
// on a FAT card, which does not tell capitals from small letters.
func (f Files) check() error {
	taken := []string{box.FileName, RecordName}
	for _, name := range slices.Concat([]string{f.Session, f.Diary}, f.Recordings) {
		if !filepath.IsLocal(filepath.FromSlash(name)) || path.Clean(name) != name || name == "." {
			return fmt.Errorf("%q is not a path in the card's folder", name)
		}
		if slices.ContainsFunc(taken, func(other string) bool { return strings.EqualFold(other, name) }) {
			return fmt.Errorf("two files on the card would be named %s; give one another name", name)
		}
		taken = append(taken, name)
	}
	return nil
}
