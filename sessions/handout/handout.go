// Package handout writes what a patient takes home on paper: one HTML page that
// prints well, with the movements, the dose, the cautions and a diary to tick.
//
// It is of the whole session as prescribed, because nobody knows on which day it
// will be read. Nothing is loaded from elsewhere, and the page forbids it, so the
// file can be sent and kept. It never has a name: only the clinic's own code, where
// the session file has one.
package handout

import (
	_ "embed"
	"html/template"
	"io"

	"glidepace/pacer"
	"glidepace/pacer/picture"
	"glidepace/sessions/cautions"
)

// Options is what a session file does not say.
type Options struct {
	Contact   string // whom to call, in the clinic's words; "" for a line to write it on
	SoundFile string // the name of the sound file on the patient's phone; "" for none
	Box       *Box   // the box that is lent; nil for none
	Paper     string // a paper size that CSS knows; "" for whatever the printer has
}

// Box is the page for whoever borrows a box.
type Box struct {
	Name   string // what is written on it
	Strap  string // where the strap goes
	Tables []BoxTable
	Notes  []string
}

// BoxTable says what the signs of a box mean.
type BoxTable struct {
	Title, Sign, Meaning string // of the table and its two columns
	Rows                 [][2]string
}

//go:embed handout.html
var source string

//go:embed handout.css
var style string

var page = template.Must(template.New("handout").Parse(source))

// Write writes the handout of a session as one HTML page.
func Write(w io.Writer, t *pacer.Timeline, o Options) error {
	s := t.Session()
	css := style
	if o.Paper != "" {
		css += "@page { size: " + o.Paper + " }\n"
	}
	breath, err := picture.Repetition(t, 1).Inline()
	if err != nil {
		return err
	}
	glides := glidesOf(s)
	when := cautions.When(t.Neck())
	last := len(when) - 1 // what to ask before starting
	all := cautions.OnPaper(t.Neck(), o.Box != nil || o.SoundFile != "", o.Box != nil)
	return page.Execute(w, map[string]any{
		"Session": s,
		"Options": o,
		"Style":   template.CSS(css),
		"Dose":    append(doseWords(s.Dose), "One session takes "+lengthWords(t.Duration)+"."),
		"Order":   orderOf(s),
		"Glides":  glides,
		// So that a glide stands whole on a page and little paper stays empty: a single one
		// fits onto the first page, unless it has three pictures.
		"GlidesFirst":   len(glides) == 1 && len(glides[0].Pictures) < 3 && s.Progress == nil,
		"Breath":        breathWords(t),
		"BreathPicture": template.HTML(breath),
		"Progress":      progressWords(s),
		"Pain":          cautions.Pain,
		"Easing":        easingWords(t),
		"Before":        append(all[:len(all)-len(when)], when[last]), // side by side on paper:
		"When":          when[:last],                                  // what to do, and whom to call
		"Deference":     cautions.Deference,
		"Repetitions":   repetitionsOf(t),
		"Settle":        seconds(s.Ease.SettleWithin.Seconds()),
		"Asked":         askedWords(t),
		"Dated":         s.Dose != nil && !s.Dose.Start.IsZero(),
		"Diary":         diaryOf(s),
	})
}
