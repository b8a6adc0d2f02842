package loan

import (
	"bytes"
	"errors"
	"fmt"
	"io/fs"

	"gopkg.in/yaml.v3"
)

// againFile is what is kept on a card on which traces were found, so that they
// are looked for again until they are gone. It holds nothing that was not found
// on the card.
type againFile struct {
	Version int         `yaml:"glidepace-look-again"`
	LookFor []againText `yaml:"look_for"`
}

type againText struct {
	Text string `yaml:"text"`
	What string `yaml:"what"`
}

const againHead = `# What was found on this card after a loan. "glidepace box back" looks for it
# again, and wipes this file once nothing is found.
`

func (s search) content() []byte {
	f := againFile{Version: 1}
	for _, t := range s {
		f.LookFor = append(f.LookFor, againText{t.text, t.what})
	}
	text, err := yaml.Marshal(f)
	if err != nil {
		panic(err) // strings and a number
	}
	return append([]byte(againHead), text...)
}

// readAgain reads what is to be looked for again; nothing where there is no
// such file.
func (c *card) readAgain() (search, error) {
	text, err := c.root.ReadFile(AgainName)
	if errors.Is(err, fs.ErrNotExist) {
		return nil, nil
	}
	var f againFile
	if err == nil {
		d := yaml.NewDecoder(bytes.NewReader(text))
		d.KnownFields(true)
		err = d.Decode(&f)
	}
	if err == nil && (f.Version != 1 || len(f.LookFor) == 0) {
		err = errDamaged
	}
	if err != nil {
		return nil, fmt.Errorf("what to look for on the card cannot be read from %s: %w; look through the card yourself, then remove that file", c.path(AgainName), err)
	}
	var s search
	for _, t := range f.LookFor {
		s.add(t.Text, t.What)
	}
	return s, nil
}

// lookAgainFor keeps on the card what is to be looked for again.
func (c *card) lookAgainFor(s search) error {
	content := s.content()
	if old, err := c.root.ReadFile(AgainName); err == nil && bytes.Equal(old, content) {
		return nil
	}
	return c.write(AgainName, content, 0o600)
}
