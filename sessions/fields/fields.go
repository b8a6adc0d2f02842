// Package fields reads the project's small YAML files: a closed set of keys,
// read strictly.
//
// Strictly, because a slip in such a file must not pass for something else: a
// length of time carries its unit, a number is a plain decimal, a key stands
// once, and nothing is written in one place and meant in another (anchors,
// tags). Text that a person reads may not hide anything: control characters
// and those that turn the direction of text are refused.
//
// Reading never stops at the first mistake: every [Problem] is collected, with
// the place it stands at, so that a file is put right in one go. A kind of file
// is a function that asks a [Mapping] for its fields, one after the other.
package fields

import (
	"fmt"
	"io"
	"strings"

	"gopkg.in/yaml.v3"
)

// Kind is a kind of file. Its first key, with the version of its format, tells
// it from the others.
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

// first is the line that a file of this kind begins with.
func (k Kind) first() string { return k.Key + ": 1" }

// Found is what was found in a file, beside the values.
type Found struct {
	Places Places
	Wrong  []string // the paths of the fields that could not be read
}

// Places are the places of the fields that a file has, by their paths.
type Places map[string]Place

// At returns the place of a field, such as "breath.rate" or
// "exercises[0].reps" (entries count from 0): its value, or its key where the
// value is a list or a mapping. Of a field that is not in the file it is the
// place of the nearest parent that is, in the end the file's start.
func (p Places) At(path string) Place {
	for path != "" {
		if at, ok := p[path]; ok {
			return at
		}
		path = path[:max(0, strings.LastIndexAny(path, ".["))]
	}
	return Place{1, 1}
}

// Read reads a file of the given kind; file is its name for messages. fill is
// called with the mapping that the file is, to read its fields, version
// included; not where the file is none.
//
// The error is an [*Error] that holds every problem of the file.
func Read(file string, src io.Reader, kind Kind, fill func(top *Mapping)) (Found, error) {
	r := newReader(kind)
	text, err := io.ReadAll(io.LimitReader(src, maxSize+1)) // one more tells that there is more
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

// Document returns the YAML mapping in a file in which Read found no problem,
// with the places of everything in it.
func Document(src []byte, kind Kind) *yaml.Node { return newReader(kind).read(src) }

// reader collects what is found while one file is read.
type reader struct {
	kind       Kind
	lines      [][]rune // the text as the YAML parser had it
	problems   []Problem
	places     Places
	unreadable map[*yaml.Node]bool // reported already
	wrong      []string
}

func newReader(kind Kind) *reader {
	return &reader{kind: kind, places: Places{}, unreadable: map[*yaml.Node]bool{}}
}

// report adds a problem with the field at path, "" where it is with none.
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

// anotherKind reports a file of another kind, and whether it is one.
func (r *reader) anotherKind(top *Mapping) bool {
	for _, k := range kinds {
		if top.Has(k.Key) && !top.Has(r.kind.Key) {
			r.report(top.placeOf(k.Key), "", "this is a %s; give a %s, which begins with %q", k.Name, r.kind.Name, r.kind.first())
			return true
		}
	}
	return false
}
