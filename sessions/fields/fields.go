// Package fields reads the project's small YAML files strictly: only known keys, so
// that a slip is never taken for something else. A length of time has its unit, a
// number is a plain decimal, a key stands once, and nothing is written in one place and
// meant in another (anchors, tags). Text may not hide anything: control characters and
// those that turn the direction of text are refused.
//
// Reading does not stop at the first mistake: every [Problem] is reported with its
// place, so that a file can be put right in one go. A kind of file is a function that
// asks a [Mapping] for its fields, one after the other.
package fields

import (
	"fmt"
	"io"
	"strings"

	"gopkg.in/yaml.v3"
)

// Kind is a kind of file. Its first key, with the version of its format, tells it from
// other kinds.
type Kind struct {
	Name string // "session file"
	Key  string // "glidepace"
}

// The kinds of files there are.
var (
	SessionFile = Kind{"session file", "glidepace"}
	BoxFile     = Kind{"box file", "glidepace-box"}
)

var kinds = []Kind{SessionFile, BoxFile}

// first is the line that such a file begins with.
func (k Kind) first() string { return k.Key + ": 1" }

// Found is what was found in a file, besides the values.
type Found struct {
	Places Places
	Wrong  []string // the paths of the fields that could not be read
}

// Places are the places of the fields that a file has, by their paths.
type Places map[string]Place

// At returns the place of a field, such as "breath.rate" or "exercises[0].reps"
// (entries count from 0): its value, or its key where the value is a list or a mapping.
// Where the file does not have the field, it is the place of its nearest parent, or
// the start of the file.
func (p Places) At(path string) Place {
	for path != "" {
		if at, ok := p[path]; ok {
			return at
		}
		path = path[:max(0, strings.LastIndexAny(path, ".["))]
	}
	return Place{1, 1}
}

// Read reads a file of the given kind; file is its name for messages. It calls fill
// with the mapping that the file is, to read its fields, the version included; not
// where the file is no such mapping. The error is an [*Error] with every problem.
func Read(file string, src io.Reader, kind Kind, fill func(top *Mapping)) (Found, error) {
	r := newReader(kind)
	text, err := io.ReadAll(io.LimitReader(src, MaxSize+1)) // one more tells that there is more
	if err != nil {
		r.report(Place{1, 1}, "", "cannot be read: %v", err)
	} else if root := r.read(text); root != nil {
		top := r.open("", Place{1, 1}, root)
		if !r.anotherKind(top) {
			fill(top)
			top.Close()
		}
	}
	return Found{r.places, r.wrong}, newError(file, r.problems)
}

// Document returns the YAML mapping of a file in which Read found no problem.
func Document(src []byte, kind Kind) *yaml.Node { return newReader(kind).read(src) }

// reader collects what is found while one file is read.
type reader struct {
	kind       Kind
	lines      [][]rune // the text as the YAML parser had it
	problems   []Problem
	places     Places
	unreadable map[*yaml.Node]bool // and reported
	wrong      []string
	remarks    map[string]string // see Mapping.Remark
}

func newReader(kind Kind) *reader {
	return &reader{kind: kind, places: Places{}, unreadable: map[*yaml.Node]bool{}}
}

// report adds a problem with the field at path, "" for none.
func (r *reader) report(at Place, path, format string, args ...any) {
	r.problems = append(r.problems, Problem{at, fmt.Sprintf(format, args...)})
	r.doubt(path)
}

// doubt marks a field that could not be read.
func (r *reader) doubt(path string) {
	if path != "" {
		r.wrong = append(r.wrong, path)
	}
}

// read returns the mapping that the file is, nil where it is none.
func (r *reader) read(src []byte) *yaml.Node {
	text, ok := r.cleanText(src)
	if !ok {
		return nil
	}
	root := r.document(text)
	if root == nil {
		return nil
	}
	if root.Kind != yaml.MappingNode || r.unreadable[root] {
		r.report(placeOf(root), "", "a %s is a mapping: keys with values, beginning with %q", r.kind.Name, r.kind.first())
		return nil
	}
	return root
}

// anotherKind returns whether the file is of another kind, and reports that.
func (r *reader) anotherKind(top *Mapping) bool {
	for _, k := range kinds {
		if top.Has(k.Key) && !top.Has(r.kind.Key) {
			r.report(top.placeOf(k.Key), "", "this is a %s; give a %s, which begins with %q", k.Name, r.kind.Name, r.kind.first())
			return true
		}
	}
	return false
}
