package glides

import (
	"bytes"
	"embed"
	"errors"
	"fmt"
	"io"
	"slices"
	"sync"

	"gopkg.in/yaml.v3"
)

//go:embed *.yaml
var files embed.FS

// names is the order of the library: by nerve, and within a nerve from the hand to the
// head, then what is still to be reviewed.
var names = []string{
	"median-wrist",
	"median-elbow",
	"median-neck",
	"median-slider",
	"median-fingers",
	"ulnar-elbow",
	"ulnar-slider",
	"radial-wrist",
	"radial-slider",
}

// library is parsed once. The files are part of the program, so a broken one is a
// programming error and panics; the tests read them all.
var library = sync.OnceValue(func() []Glide {
	all := make([]Glide, 0, len(names))
	for _, name := range names {
		file := name + ".yaml"
		data, err := files.ReadFile(file)
		if err != nil {
			panic(fmt.Sprintf("glides: %v", err))
		}
		g, err := parse(data)
		if err != nil {
			panic(fmt.Sprintf("glides: %s: %v", file, err))
		}
		all = append(all, g)
	}
	return all
})

// parse reads the glide of a library file. Unknown and repeated keys and a second
// document are errors.
func parse(data []byte) (Glide, error) {
	var g Glide
	d := yaml.NewDecoder(bytes.NewReader(data))
	d.KnownFields(true)
	if err := d.Decode(&g); err != nil {
		return Glide{}, err
	}
	if f := g.Figure; f != nil {
		// A pose says where it differs from the start: read once more, over the start.
		f.End = f.Start
		if f.Back != nil {
			*f.Back = f.Start
		}
		if err := yaml.Unmarshal(data, &g); err != nil {
			return Glide{}, err
		}
	}
	if err := d.Decode(new(yaml.Node)); !errors.Is(err, io.EOF) {
		return Glide{}, errors.New("more than one document: one glide a file")
	}
	return g, nil
}

// All returns every glide, in the order of Names. Do not change the Watch slices.
func All() []Glide { return slices.Clone(library()) }

// Find returns the glide that session files call name, and whether there is one. Do not
// change its Watch slice.
func Find(name string) (Glide, bool) {
	for _, g := range library() {
		if g.Name == name {
			return g, true
		}
	}
	return Glide{}, false
}

// Names returns the names of all glides, in the order of All.
func Names() []string { return slices.Clone(names) }
