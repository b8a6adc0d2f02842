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

// Language has all texts of one language.
type Language struct {
	Code   string            `yaml:"language"` // a BCP 47 code, the name of the file
	Espeak string            `yaml:"espeak"`   // the voice of espeak-ng that speaks it
	Words  map[string]string `yaml:"words"`    // by name, those of wordNames
	Counts []string          `yaml:"counts"`   // from one on, as many as a set may have repetitions
	// Glides are the glides of the library in this language, by name; the
	// library's own texts where one is not here.
	Glides map[string]glides.Glide `yaml:"glides"`
	// Shorter has a shorter way to say the movements of each glide of the
	// library, by name.
	Shorter map[string]Shorter `yaml:"shorter"`
}

// Shorter are the movements of a glide, out and back, in as few words as say
// what to do.
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

// languages has the words of all languages, by code. The tables are parsed
// once. They are part of the program, so a broken one is a programming error
// and panics; the tests read them all.
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

// FindLanguage returns the words of a language, which are not to be changed. The error
// names the languages there are.
func FindLanguage(language string) (*Language, error) {
	if w := languages()[language]; w != nil {
		return w, nil
	}
	return nil, fmt.Errorf("there are no words in %q; known are: %s", language, strings.Join(Languages(), ", "))
}
