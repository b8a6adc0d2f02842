package main

import (
	"fmt"
	"io"
	"strings"

	"glidepace/cmd/glidepace/internal/console"
	"glidepace/sessions"
	"glidepace/sessions/review"
)

// reviewText writes reviews to be read. Its plots stand behind their figures.
type reviewText struct {
	*console.Printer
	plot console.Plot
}

func newReviewText(w io.Writer) reviewText {
	return reviewText{console.NewPrinter(w), console.PlotFor(w)}
}

// besideFigures is a plot, or nothing in a terminal that is too narrow for both.
func (t reviewText) besideFigures(plot string) string {
	if t.Width < 72 {
		return ""
	}
	return plot
}

// spoken is what one would say first.
func spoken(list []review.Course) string {
	text := review.SpokenOfMany(list)
	if len(list) == 1 {
		text = list[0].Spoken()
		if code := list[0].Patient; code != "" {
			return code + ": " + text + "."
		}
	}
	return strings.ToUpper(text[:1]) + text[1:] + "."
}

// courses writes a row for each of many patients.
func (t reviewText) courses(list []review.Course) error {
	t.Sentence(spoken(list))
	table := console.NewTable(t.W)
	table.Row("PATIENT", "SESSIONS", "STOPS", "LAST", "WHAT STANDS OUT MOST")
	for i := range list {
		c := &list[i]
		last := "not known"
		if !c.Last.IsZero() {
			last = c.Last.String()
		}
		table.Row(short(c.Name()), c.Amount(), c.StopCount(), last, standsOut(c))
	}
	t.flush(table)
	return t.Err
}

// standsOut says what stands out most, and names the rest.
func standsOut(c *review.Course) string {
	var text strings.Builder
	for i, s := range c.StandsOut {
		switch i {
		case 0:
			text.WriteString(s.Text)
			continue
		case 1:
			text.WriteString("; also: ")
		default:
			text.WriteString(", ")
		}
		text.WriteString(s.Kind.Words())
	}
	return text.String()
}

// longestCode is how long a patient code may be. A longer word in the name of a course
// is cut.
const longestCode = 16

func short(name string) string {
	words := strings.Fields(name)
	for i, word := range words {
		if letters := []rune(word); len(letters) > longestCode {
			words[i] = string(letters[:longestCode-1]) + "…"
		}
	}
	return strings.Join(words, " ")
}

// A terminal has 24 rows; one is left for what is typed next.
const (
	reviewRows  = 23
	shownNotes  = 3
	moreOfWeeks = "--all has every week, stop and note, with the rules, intervals and trends."
)

// course writes the review of one patient: the main figures, and as many of the last weeks
// as there is room for. cure is what helps if the dose is not known.
func (t reviewText) course(c *review.Course, cure string) error {
	above := console.Lines(t.Width, func(p *console.Printer) {
		t := reviewText{p, t.plot}
		t.opening(c, false)
		t.Line("")
		t.Sentence(c.Title)
		for _, line := range c.Summary().Lines {
			t.Field(line.Label, line.Text)
		}
		t.dose(c, cure)
		notes := c.NotesReport().Lines
		for _, note := range notes[:min(shownNotes, len(notes))] {
			t.Field("note", note.Label+": "+note.Text)
		}
		if more := len(notes) - shownNotes; more > 0 {
			t.Field("", fmt.Sprintf("and %d more: --all", more))
		}
	})
	for _, line := range above {
		t.Line("%s", line)
	}
	const around = 4 // rows around the weeks: an empty one, two of headings, the last
	if room := reviewRows - around - len(above); room > 0 {
		t.weeks(c, room)
	}
	t.Sentence(moreOfWeeks)
	return t.Err
}

// all writes all that is known of one patient.
func (t reviewText) all(c *review.Course, cure string) error {
	t.opening(c, true)
	t.Line("")
	t.Sentence(c.Title)
	t.part(c.AmountReport())
	t.dose(c, cure)
	t.adherence(c)
	t.part(c.SymptomReport())
	t.ratings(c, "tingling", func(w *review.Week) (before, after *float64) { return w.TinglingBefore, w.TinglingAfter })
	t.ratings(c, "pain", func(w *review.Week) (before, after *float64) { return w.PainBefore, w.PainAfter })
	t.part(c.PaceReport())
	if notes := c.NotesReport(); len(notes.Lines) > 0 {
		t.part(notes)
	}
	return t.Err
}

// opening writes what one would say first, and what stands out.
func (t reviewText) opening(c *review.Course, rules bool) {
	t.Sentence(spoken([]review.Course{*c}))
	t.Line("")
	if len(c.StandsOut) == 0 {
		t.Line("Nothing stands out.")
		return
	}
	t.Line("What stands out, for the clinician:")
	for _, s := range c.StandsOut {
		text := s.Text + "."
		if rules {
			text += " Rule: " + s.Rule + "."
		}
		t.Wrap("- ", text)
	}
}

// dose says what helps if the dose is not known.
func (t reviewText) dose(c *review.Course, cure string) {
	if c.Adherence == nil && !c.From.IsZero() {
		t.Field("dose", "not known: "+cure)
	}
}

// weeks writes a row for each of the last weeks.
func (t reviewText) weeks(c *review.Course, most int) {
	list := c.Weeks[max(0, len(c.Weeks)-most):]
	if len(list) == 0 {
		return
	}
	table := console.NewTable(t.W)
	limit := ""
	if c.Adherence != nil {
		limit = t.besideFigures(fmt.Sprintf("%s IS AT %.0f %%", t.plot.Limit, 100*review.Satisfactory))
	}
	table.Row("The last weeks, with the means of the ratings before and after sessions:")
	table.Row("WEEK", "SESSIONS", limit, "TINGLING", "PAIN", "STOPS")
	for i := range list {
		w := &list[i]
		done, bar := fmt.Sprintf("%d completed", w.Counts.Completed), ""
		if w.Sessions.Of > 0 {
			done, bar = w.Sessions.String(), t.besideFigures(t.plot.Bar(w.Sessions.Share, review.Satisfactory))
		}
		stops := "" // on paper 0 would not be known
		if w.Stops > 0 {
			stops = fmt.Sprint(w.Stops)
		}
		table.Row(w.Name(), done, bar, means(w.TinglingBefore, w.TinglingAfter, " to "), means(w.PainBefore, w.PainAfter, " to "), stops)
	}
	t.flush(table)
}

// means writes the mean ratings before and after, or the one that is known.
func means(before, after *float64, between string) string {
	switch {
	case before == nil && after == nil:
		return ""
	case before == nil:
		return fmt.Sprintf("%.1f after", *after)
	case after == nil:
		return fmt.Sprintf("%.1f before", *before)
	}
	return fmt.Sprintf("%.1f%s%.1f", *before, between, *after)
}

func (t reviewText) part(p review.Part) {
	t.Line("")
	t.Line("%s", strings.ToUpper(p.Title))
	for _, line := range p.Lines {
		t.Field(line.Label, line.Text)
	}
}

// adherence writes a row for each week.
func (t reviewText) adherence(c *review.Course) {
	table := console.NewTable(t.W)
	interval, limit := "", ""
	if c.Adherence != nil {
		interval, limit = "95 % INTERVAL", t.besideFigures(fmt.Sprintf("%s IS AT %.0f %%", t.plot.Limit, 100*review.Satisfactory))
	}
	table.Row("WEEK", "SESSIONS", interval, limit, "BESIDES")
	for _, w := range c.Weeks {
		done, interval, bar := sessions.Count(w.Counts.Completed, "session"), "", ""
		if w.Sessions.Of > 0 {
			done, interval, bar = w.Sessions.String(), w.Sessions.Interval(), t.besideFigures(t.plot.Bar(w.Sessions.Share, review.Satisfactory))
		}
		var besides []string
		if w.Stops > 0 {
			besides = append(besides, sessions.Count(w.Stops, "stop"))
		}
		if w.Counts.Extra > 0 {
			besides = append(besides, fmt.Sprintf("%d extra", w.Counts.Extra))
		}
		table.Row(w.Name(), done, interval, bar, strings.Join(besides, ", "))
	}
	t.flush(table)
}

// ratings writes a row for each week with the means of a rating.
func (t reviewText) ratings(c *review.Course, name string, of func(*review.Week) (before, after *float64)) {
	table := console.NewTable(t.W)
	table.Row("WEEK", strings.ToUpper(name), t.besideFigures(fmt.Sprintf("0 TO 10: %s BEFORE, %s AFTER, %s BOTH", t.plot.Before, t.plot.After, t.plot.Both)), "STOPS")
	rated := false
	for i := range c.Weeks {
		w := &c.Weeks[i]
		before, after := of(w)
		if before == nil && after == nil {
			continue
		}
		rated = true
		figures, plot := means(before, after, " before, "), ""
		if before != nil && after != nil {
			figures, plot = figures+" after", t.besideFigures(t.plot.Ratings(*before, *after))
		}
		stops := ""
		if w.Stops > 0 {
			stops = sessions.Count(w.Stops, "stop")
		}
		table.Row(w.Name(), figures, plot, stops)
	}
	if rated {
		t.flush(table)
	}
}

// flush writes a table after an empty line.
func (t reviewText) flush(table *console.Table) {
	t.Line("")
	if t.Err == nil {
		t.Err = table.Flush()
	}
}
