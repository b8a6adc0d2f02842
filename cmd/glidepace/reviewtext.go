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
		done := sessions.Count(c.Counts.Completed, "session")
		if c.Adherence != nil {
			done = c.Adherence.Sessions.String()
		}
		last := "not known"
		if !c.Last.IsZero() {
			last = c.Last.String()
		}
		table.Row(short(c.Name()), done, fmt.Sprint(len(c.Stops)), last, standsOut(c))
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
		text.WriteString(strings.ReplaceAll(s.Kind.String(), "-", " "))
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

// course writes the review of one patient. cure is what helps if the dose is not known.
func (t reviewText) course(c *review.Course, cure string) error {
	t.Sentence(spoken([]review.Course{*c}))
	t.Sentence(c.Title)
	t.Line("")
	if len(c.StandsOut) == 0 {
		t.Line("Nothing stands out.")
	} else {
		t.Line("What stands out, for the clinician:")
	}
	for _, s := range c.StandsOut {
		t.Wrap("- ", s.Text+". Rule: "+s.Rule+".")
	}
	t.part(c.AmountReport())
	if c.Adherence == nil && !c.From.IsZero() {
		t.Field("", cure)
	}
	t.adherence(c)
	t.part(c.SymptomReport())
	t.ratings(c, "tingling", func(w *review.Week) (before, after *float64) { return w.TinglingBefore, w.TinglingAfter })
	t.ratings(c, "pain", func(w *review.Week) (before, after *float64) { return w.PainBefore, w.PainAfter })
	t.part(c.PaceReport())
	return t.Err
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
		if before == nil || after == nil {
			continue
		}
		rated = true
		stops := ""
		if w.Stops > 0 {
			stops = sessions.Count(w.Stops, "stop")
		}
		table.Row(w.Name(), fmt.Sprintf("%.1f before, %.1f after", *before, *after), t.besideFigures(t.plot.Ratings(*before, *after)), stops)
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
