// Package page writes a review as one HTML page, on screen and on paper: what stands
// out, charts with their figures in words, and tables.
//
// Nothing is loaded from elsewhere, no script runs, and the page forbids both, so the
// file can be sent and kept. The charts are drawn here: a library would bring fonts and
// colours of its own, and these follow those of the page.
package page

import (
	"bytes"
	"crypto/sha256"
	_ "embed"
	"encoding/base64"
	"fmt"
	"html/template"
	"io"
	"slices"
	"strings"
	"unicode"

	"glidepace/sessions"
	"glidepace/sessions/plaintext"
	"glidepace/sessions/review"
)

//go:embed page.html
var source string

//go:embed page.css
var style string

var page = template.Must(template.New("page").Funcs(template.FuncMap{
	"change": change, "ratings": sessions.BeforeAndAfter, "span": review.Span, "sentence": sentence,
}).Parse(source))

// Write writes the page of some courses, those that need attention first, up to a day.
// If attention is set, only those that need it have a section.
func Write(w io.Writer, courses []review.Course, to sessions.Date, attention bool) error {
	list := make([]course, len(courses))
	for i := range courses {
		list[i] = newCourse(&courses[i], fmt.Sprintf("p%d", i+1))
		list[i].Shown = !attention || courses[i].NeedsAttention()
	}
	var only *course
	if len(list) == 1 {
		only = &list[0]
	}
	sum := sha256.Sum256([]byte(style))
	var b bytes.Buffer
	if err := page.Execute(&b, map[string]any{
		"To":        to.Format("2 January 2006"),
		"Only":      only,
		"Courses":   list,
		"Spoken":    review.SpokenOfMany(courses),
		"Style":     template.CSS(style),
		"StyleHash": "sha256-" + base64.StdEncoding.EncodeToString(sum[:]),
	}); err != nil {
		return err
	}
	_, err := w.Write(bytes.Map(visible, b.Bytes()))
	return err
}

// visible keeps a character that can be seen. What others wrote may have one that turns
// the text around it.
func visible(c rune) rune {
	if c != '\n' && c != '\t' && plaintext.Hidden(c) {
		return unicode.ReplacementChar
	}
	return c
}

// course is a course as the page shows it.
type course struct {
	*review.Course
	ID    string
	Shown bool // it has a section
	Parts []part
}

// part is a part of the report with its charts.
type part struct {
	review.Part
	ID      string
	Figures []figure
	Weeks   []review.Week
}

// figure is a chart, with what it shows in words.
type figure struct {
	ID, Title, Text string
	Chart           template.HTML
}

func newCourse(o *review.Course, id string) course {
	c := course{Course: o, ID: id}
	amounts := c.add(o.AmountReport())
	amounts.Weeks = o.Weeks
	if a := o.Adherence; a != nil && a.Sessions.Of > 0 {
		amounts.draw("Completed of prescribed sessions, each week", adherence(o.Weeks),
			"In all "+a.Sessions.String()+". An open bar is under 80 %. The upright lines are the 95 % intervals.")
	}
	apart := ""
	if n := o.Counts.NoDate + o.Counts.WrongDay; o.From.IsZero() {
		apart = " In the order of the sessions, since no date is known."
	} else if n > 0 {
		apart = " Sessions without a date, which are not drawn: " + fmt.Sprint(n) + "."
	}
	symptoms := c.add(o.SymptomReport())
	for _, r := range []struct {
		*review.Rating
		of func(sessions.Ratings) *int
	}{
		{&o.Tingling, func(r sessions.Ratings) *int { return r.Tingling }},
		{&o.Pain, func(r sessions.Ratings) *int { return r.Pain }},
	} {
		if !slices.ContainsFunc(o.Sessions, func(s *review.Session) bool { return r.of(s.Before) != nil || r.of(s.After) != nil }) {
			continue
		}
		text := "Each rating as it was, 0 (none) to 10 (worst)."
		if t := r.Before; t != nil {
			text += fmt.Sprintf(" The line is the trend of the days’ means before: %+.2f points a week.", t.Slope)
		}
		symptoms.draw(upper(r.Name)+" before and after, each session", ratings(o, r.Rating, r.of), text+apart)
	}
	if text := o.Settling.String(); text != "" {
		symptoms.draw("How long until symptoms had settled", settling(o), sentence(text)+" On the line “none”: not settled, or not timed."+apart)
	}
	pace := c.add(o.PaceReport())
	if l := o.Level; l != nil {
		pace.draw("Repetitions a set, each session", level(o), fmt.Sprintf("%d in the latest session.", l.Reps)+apart)
	}
	if notes := o.NotesReport(); len(notes.Lines) > 0 {
		c.add(notes)
	}
	return c
}

// sentence makes a sentence of words.
func sentence(words string) string { return upper(words) + "." }

func upper(words string) string { return strings.ToUpper(words[:1]) + words[1:] }

// change writes the mean ratings before and after.
func change(before, after *float64) string {
	text := func(v *float64) string {
		if v == nil {
			return "–"
		}
		return fmt.Sprintf("%.1f", *v)
	}
	if before == nil && after == nil {
		return ""
	}
	return text(before) + " → " + text(after)
}

// add adds a part. A label above several lines is there once.
func (c *course) add(p review.Part) *part {
	for i := len(p.Lines) - 1; i > 0; i-- {
		if p.Lines[i].Label == p.Lines[i-1].Label {
			p.Lines[i].Label = ""
		}
	}
	c.Parts = append(c.Parts, part{Part: p, ID: fmt.Sprintf("%s-%d", c.ID, len(c.Parts)+1)})
	return &c.Parts[len(c.Parts)-1]
}

// draw adds a chart.
func (p *part) draw(title string, c *chart, text string) {
	id := fmt.Sprintf("%s-%d", p.ID, len(p.Figures)+1)
	p.Figures = append(p.Figures, figure{id, title, text, c.svg(id, id+"-text")})
}
