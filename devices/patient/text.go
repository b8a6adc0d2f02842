package patient

import (
	"glidepace/sessions/cautions"
	"glidepace/sessions/glides"
)

// Text is what a patient reads, in blocks.
type Text []Block

// Block is a paragraph or several items, with a label beside or a heading above; a
// gap where it is empty.
type Block struct {
	Label, Heading string
	Text           string
	Items          []string
}

// say adds a paragraph, nothing for "".
func (t *Text) say(text string) { t.field("", text) }

// field adds a text with a label, nothing for "".
func (t *Text) field(label, text string) {
	if text != "" {
		*t = append(*t, Block{Label: label, Text: text})
	}
}

func (t *Text) gap() { *t = append(*t, Block{}) }

func (t *Text) list(l cautions.List) { *t = append(*t, Block{Heading: l.Title, Items: l.Items}) }

// posture says how one sits or stands, a field for each part.
func (t *Text) posture(q glides.Posture) {
	for i, text := range q.Texts() {
		t.field(glides.PostureParts[i], text)
	}
}
