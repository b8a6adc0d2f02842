package main

import (
	"fmt"
	"slices"
	"strings"

	"glidepace/cmd/glidepace/internal/console"
	"glidepace/devices/patient"
	"glidepace/pacer"
	"glidepace/sessions"
	"glidepace/sessions/cautions"
)

// writeReports writes each file's report; with all, every figure and, once for all
// files, when not to exercise.
func writeReports(p *console.Printer, reports []report, all bool) {
	for _, r := range reports {
		r.write(p, all)
		p.Line("")
	}
	switch {
	case len(reports) == 0:
	case all:
		neck := slices.ContainsFunc(reports, func(r report) bool { return r.neck })
		for _, l := range cautions.When(neck) {
			p.List(l)
		}
		p.Wrap("", cautions.Deference)
	default:
		p.Wrap("", "When not to exercise, whom to call, and more figures: add --all.")
	}
}

func (r report) write(p *console.Printer, all bool) {
	p.Line("%s: %s", r.File, r.Title)
	if r.Today != "" {
		p.Wrap("", "Today: "+r.Today)
	}
	for _, text := range r.Against {
		p.Wrap("- ", text)
	}
	p.Line("")
	r.writeCare(p)
	p.Line("")
	r.writeTempo(p, all)
	p.Field("taper", r.Taper)
	if all {
		r.writeParts(p)
	} else {
		p.Field("sets", r.sets())
	}
	length := fmt.Sprintf("%s in all; %s, %s", pacer.Clock(r.Length), sessions.Count(r.Repetitions, "repetition"), sessions.Count(r.Breaths, "breath"))
	if r.Raised > 0 || all {
		length += "; arm raised " + pacer.Clock(r.Raised)
	}
	if r.ownGlides && all {
		length += " (not counting the file's own glides)"
	}
	p.Field("length", length)
	if r.Dose != nil {
		p.Field("dose", r.Dose.words())
	}
	if r.NoPicture != nil {
		p.Field("on a phone", "no moving picture of "+strings.Join(r.NoPicture, ", ")+": the file has no figure")
	}
	if !all {
		r.Sound.writeLeftOut(p)
		return
	}
	p.Field("after symptoms", r.easing)
	p.Field("working up", r.progress)
	r.Sound.write(p)
}

// writeCare writes what asks for care in this file, then what holds for its glides in
// every file.
func (r report) writeCare(p *console.Printer) {
	var special, reviews []string
	for _, c := range r.Cautions {
		if c.review {
			name, _, _ := strings.Cut(c.Text, ":")
			reviews = append(reviews, name)
			continue
		}
		special = append(special, fmt.Sprintf("line %d: %s", c.Line, c.Text))
	}
	if len(special) > 0 {
		p.List(cautions.List{Title: "Take care", Items: special})
	} else {
		p.Line("Nothing in this file asks for special care.")
	}
	if len(reviews) > 0 {
		slices.Sort(reviews)
		p.Wrap("", "Still to be reviewed by a clinician: "+strings.Join(slices.Compact(reviews), ", ")+".")
	}
}

// writeTempo writes breath and movement, once for all exercises that share them; with
// all, the other way to match the two as well.
func (r report) writeTempo(p *console.Printer, all bool) {
	distinct := slices.CompactFunc(slices.Clone(r.Exercises), func(a, b exerciseReport) bool { return a.Tempo == b.Tempo && a.Other == b.Other })
	told := ""
	for _, e := range distinct {
		t, glide := e.Tempo, ""
		if all || len(distinct) > 1 {
			glide = ", " + e.Glide
		}
		cycle := ""
		if all {
			cycle = fmt.Sprintf(" (%.3g s)", t.Cycle)
		}
		breath := fmt.Sprintf("%.4g a minute%s: inhale %.3g s, exhale %.3g s, pause %.3g s", t.Rate, cycle, t.Inhale, t.Exhale, t.Pause)
		if breath != told {
			p.Field("breath", breath)
		}
		told = breath
		if !all {
			p.Field("movement", patient.DescribeMovement(t)+glide)
			continue
		}
		p.Field("movement", fmt.Sprintf("%s%s (%s)", patient.DescribeMovement(t), glide, t.Match))
		other := "no time for the movement"
		if e.Other.Possible() {
			other = patient.DescribeMovement(e.Other)
		}
		p.Field("the other way", fmt.Sprintf("%s%s (%s)", other, glide, e.Other.Match))
	}
}

// sets says in a line what is done: each exercise with its sides, sets and repetitions.
func (r report) sets() string {
	var list []string
	told := 0 // number of the exercise
	for _, g := range pacer.GroupSets(r.Sets) {
		if g.Exercise == told {
			continue // the other side is alike
		}
		told = g.Exercise
		side := r.Exercises[told-1].Side
		amount := sessions.Count(g.Reps, "repetition")
		if n := len(g.Lengths); n > 1 {
			amount = fmt.Sprintf("%s of %d", sessions.Count(n, "set"), g.Reps)
		}
		if side == sessions.Both.String() {
			side, amount = "right and left", amount+" each"
		}
		list = append(list, fmt.Sprintf("%s, %s: %s", rangedGlide(g), side, amount))
	}
	text := strings.Join(list, "; ")
	if r.repsFrom > 0 {
		text += fmt.Sprintf(", beginning with %d", r.repsFrom)
	}
	return text
}

// writeParts writes a line for each part of the session.
func (r report) writeParts(p *console.Printer) {
	if r.posture > 0 {
		p.Field("posture", pacer.Clock(r.posture)+r.postureThen)
	}
	if r.leadIn > 0 {
		p.Field("lead-in", pacer.Clock(r.leadIn)+" at rest")
	}
	for _, g := range pacer.GroupSets(r.Sets) {
		lengths := make([]string, len(g.Lengths))
		for i, l := range g.Lengths {
			lengths[i] = pacer.Clock(l)
		}
		p.Field("sets", fmt.Sprintf("%s %s, %s of %s in %s", g.Side, rangedGlide(g), sessions.Count(len(lengths), "set"),
			sessions.Count(g.Reps, "repetition"), strings.Join(lengths, ", ")))
	}
}

// rangedGlide names the glide of a set, with its range where that is not full.
func rangedGlide(g pacer.SetGroup) string {
	if g.Range == sessions.RangeFull {
		return g.Glide
	}
	return g.Glide + " at " + g.Range.String() + " range"
}

func (d doseReport) words() string {
	text := sessions.Span(d.PerDayMin, d.PerDayMax, "session") + " a day"
	if d.Start != "" {
		text += " from " + d.Start
	}
	if d.End != "" {
		text += " to " + d.End
	}
	if d.Days > 0 {
		text += fmt.Sprintf(" (%s): %s, %s", sessions.Count(d.Days, "day"),
			sessions.Span(d.SessionsMin, d.SessionsMax, "session"), sessions.Span(d.RepetitionsMin, d.RepetitionsMax, "repetition"))
	}
	return text
}
