package picture

import (
	"fmt"
	"slices"
	"strings"

	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"

	"glidepace/pacer"
	"glidepace/sessions"
)

// A page is as wide as A4 or Letter between narrow margins, in points.
const (
	pageWidth  = vg.Length(540)
	leftEdge   = vg.Length(50) // of the tracks; their names stand before it
	rightEdge  = vg.Length(528)
	headHeight = vg.Length(52) // of title and facts
	noteSize   = vg.Length(9)
	noteLine   = vg.Length(12)
	exampleTop = vg.Length(150) // height of the repetition, with its title
	rowHeight  = vg.Length(86)
)

// Session returns a picture of a whole session for a clinician: one repetition,
// enlarged, and below it all the session in rows of the same scale, so that a taper is
// seen as breaths that grow longer. A note, such as why today's session is different,
// stands under the title.
func Session(t *pacer.Timeline, note string) *Picture {
	rows := rowsOf(t)
	part := example(t, 1)
	notes := wrapped(letters(noteSize), note, pageWidth-4)
	head := headHeight + vg.Length(len(notes))*noteLine
	height := head + exampleTop + 4 + vg.Length(len(rows))*rowHeight
	return &Picture{pageWidth, height, t.Title + ": breath and movement over time", func(c draw.Canvas) {
		drawHead(c, t, notes, height)
		top := height - head
		reps := map[int]string{1: "One repetition", 2: "Two repetitions"}[part[len(part)-1].Rep]
		heading(c, top, fmt.Sprintf("%s of %s in its last set, at %s breaths a minute", reps, part[0].Glide, perMinute(part[0].Rate)))
		drawRepetition(stripOf(c, part, leftEdge, rightEdge), t, part, forClinician, top-6)
		top -= exampleTop
		heading(c, top, "The whole session")
		for _, r := range rows {
			top -= rowHeight
			r.Canvas = c
			r.drawRow(t, top)
		}
	}}
}

func heading(c draw.Canvas, y vg.Length, words string) {
	style := boldface(leftward(letters(10)))
	c.FillText(style, vg.Point{X: 2, Y: y}, fit(style, words, pageWidth-4))
}

// drawHead writes what the session is, above all pictures.
func drawHead(c draw.Canvas, t *pacer.Timeline, notes []string, top vg.Length) {
	title := boldface(leftward(letters(14)))
	c.FillText(title, vg.Point{X: 2, Y: top - 16}, fit(title, t.Title, pageWidth-4))
	plain := leftward(letters(noteSize))
	facts := []string{pacer.Clock(t.Duration) + " in all", sessions.Count(t.Breaths, "breath"), sessions.Count(t.Repetitions, "repetition")}
	first, last := t.Rates()
	if first == last {
		facts = append(facts, perMinute(last)+" breaths a minute")
	} else {
		facts = append(facts, fmt.Sprintf("from %s to %s breaths a minute", perMinute(first), perMinute(last)))
	}
	c.FillText(plain, vg.Point{X: 2, Y: top - 30}, strings.Join(facts, ", "))
	for i, line := range notes {
		c.FillText(plain, vg.Point{X: 2, Y: top - 30 - vg.Length(i+1)*noteLine}, line)
	}
}

func perMinute(rate float64) string { return fmt.Sprintf("%.3g", rate) }

// rowLengths are how many seconds a row may have.
var rowLengths = []float64{60, 120, 180, 240, 300, 600, 900, 1200, 1800, 3600, 7200}

const mostRows = 6 // on a page

// rowsOf divides a timeline into rows of the same scale. Only a time of free breath is
// cut in two; a row that would cut another step ends before it.
func rowsOf(t *pacer.Timeline) (rows []strip) {
	for _, length := range rowLengths {
		rows = nil
		for from := 0.0; from < t.Duration; from = rows[len(rows)-1].to {
			rows = append(rows, strip{from: from, to: endOfRow(t, from, length), left: leftEdge, scale: (rightEdge - leftEdge) / vg.Length(length)})
		}
		if len(rows) <= mostRows {
			break
		}
	}
	return rows
}

// endOfRow returns where the row ends that begins at from and has room for length.
func endOfRow(t *pacer.Timeline, from, length float64) float64 {
	to := from + length
	if to >= t.Duration-instant {
		return t.Duration
	}
	part, breath := at(sections(t), to), at(breaths(t), to)
	little := length / 8 // too short for a name
	switch free := part.step.Breath == pacer.Free; {
	case part.start > from && (to-part.start < little || free && part.end-to < little):
		return part.start
	case free:
		return to
	}
	return breath.start
}

// at returns the one of a list that is under way at a moment, or just begins.
func at(list []stretch, moment float64) stretch {
	return list[slices.IndexFunc(list, func(s stretch) bool { return s.end > moment+instant })]
}

// drawRow draws a row of the session whose lowest line is at y.
func (s strip) drawRow(t *pacer.Timeline, y vg.Length) {
	style := letters(small)
	axis := y + 18
	move := band{axis + 3, axis + 23}
	breath := band{move.top + 6, move.top + 30}
	s.track(leftward(style), "breath", breath)
	s.track(leftward(style), "movement", move)
	s.drawBreath(t, breath)
	s.drawMoves(t, move)
	s.drawAxis(axis)
	for _, w := range s.within(sections(t)) {
		switch {
		case w.step.InSet():
			s.bracket(style, setNames(t, w.step), w.start, w.end, breath.top+4)
		case w.step.Breath != pacer.Free:
			s.bracket(style, []string{"lead-in, arm at rest", "lead-in"}, w.start, w.end, breath.top+4)
		default:
			s.label(style, []string{w.step.Move.String()}, w, move.bottom+7)
			s.label(style, []string{"breathe as you like", "free"}, w, breath.bottom+15)
		}
	}
	for _, w := range s.within(moves(t)) {
		if w.step.Move == pacer.Glide && s.x(w.end)-s.x(w.start) > small {
			s.FillText(style, vg.Point{X: s.x(w.end), Y: move.bottom + 3}, fmt.Sprint(w.step.Rep))
		}
	}
}

// sections returns the parts of a session, each with its first step: posture, lead-in,
// set-up, sets, shakes.
func sections(t *pacer.Timeline) (list []stretch) {
	for i, s := range t.Steps {
		if i > 0 && s.Breath != pacer.Free {
			if p := &list[len(list)-1]; p.step.Breath != pacer.Free && p.step.Exercise == s.Exercise && p.step.Side == s.Side && p.step.Set == s.Set {
				p.end = s.End()
				continue
			}
		}
		list = append(list, stretch{step: s, start: s.Start, end: s.End()})
	}
	return list
}

// setNames returns names for a set, the longest first.
func setNames(t *pacer.Timeline, s pacer.Step) []string {
	set := fmt.Sprintf("%s, set %d of %d", s.Side, s.Set, t.SetsOnSide(s))
	if t.SetsOnSide(s) == 1 {
		set = s.Side.String()
	}
	return []string{
		fmt.Sprintf("%d. %s, %s, %s", s.Exercise, s.Glide, set, sessions.Count(t.RepsInSet(s), "repetition")),
		fmt.Sprintf("%d. %s, %s", s.Exercise, s.Glide, set),
		fmt.Sprintf("%d. %s", s.Exercise, set),
		set,
		fmt.Sprintf("%s %d", s.Side, s.Set),
	}
}
