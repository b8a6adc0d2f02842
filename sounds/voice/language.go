package voice

import (
	"bytes"
	"embed"
	"errors"
	"fmt"
	"strings"
	"sync"

	"gopkg.in/yaml.v3"

	"glidepace/sessions/glides"
)

// Language has all texts of one language. It must not be changed.
type Language struct {
	Code   string            `yaml:"language"` // BCP 47; also the name of the file
	Espeak string            `yaml:"espeak"`   // the voice of espeak-ng that speaks it
	Words  map[string]string `yaml:"words"`    // by name; see wordNames
	Counts []string          `yaml:"counts"`   // the numbers of repetitions, from one on
	// Glides are the library's glides in this language, by name. Where one is
	// missing, the library's own texts are said.
	Glides map[string]glides.Glide `yaml:"glides"`
	// Shorter has a shorter way to say the movements of each of the library's
	// glides, by name.
	Shorter map[string]Shorter `yaml:"shorter"`
}

// Shorter is a glide's movements in as few words as possible.
type Shorter struct {
	Out  string `yaml:"out"`
	Back string `yaml:"back"`
}

//go:embed *.yaml
var tables embed.FS

// Languages returns the codes of the languages there are.
func Languages() []string {
	names, _ := tables.ReadDir(".") // an embedded folder can be read
	var codes []string
	for _, n := range names {
		codes = append(codes, strings.TrimSuffix(n.Name(), ".yaml"))
	}
	return codes
}

// languages has all languages, by code. The tables are parsed once. They are part
// of the program, so a broken one is a programming error and panics; the tests
// read them all.
var languages = sync.OnceValue(func() map[string]*Language {
	all := map[string]*Language{}
	for _, language := range Languages() {
		src, err := tables.ReadFile(language + ".yaml")
		w := &Language{}
		d := yaml.NewDecoder(bytes.NewReader(src))
		d.KnownFields(true)
		if err := errors.Join(err, d.Decode(w)); err != nil {
			panic(fmt.Sprintf("voice: the words in %s: %v", language, err))
		}
		all[language] = w
	}
	return all
})

// FindLanguage returns the language with a code. The error names those there are.
func FindLanguage(language string) (*Language, error) {
	if w := languages()[language]; w != nil {
		return w, nil
	}
	return nil, fmt.Errorf("there are no words in %q; known are: %s", language, strings.Join(Languages(), ", "))
}
