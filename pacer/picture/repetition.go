package picture

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"gonum.org/v1/plot/text"
	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"

	"glidepace/pacer"
	"glidepace/sessions"
)

// names are what the parts of a repetition are called, the longest name first. The
// pause of the breath has none: the breath turns by itself.
type names struct {
	breath map[pacer.Breath][]string
	move   map[pacer.Move][]string
	size   vg.Length // of the letters
}

var (
	forClinician = names{
		map[pacer.Breath][]string{pacer.Inhale: {"inhale", "in"}, pacer.Exhale: {"exhale", "out"}},
		map[pacer.Move][]string{pacer.Rest: {"rest"}, pacer.Glide: {"glide"}, pacer.MovePause: {"pause"}, pacer.Return: {"return"}}, 9}
	forPatient = names{
		map[pacer.Breath][]string{pacer.Inhale: {"breathe in", "in"}, pacer.Exhale: {"breathe out", "out"}},
		map[pacer.Move][]string{pacer.Rest: {"at the start", "start"}, pacer.Glide: {"move out", "out"}, pacer.MovePause: {"pause"}, pacer.Return: {"move back", "back"}}, 12}
)

// Repetition returns a picture of how breath and movement go together, for a patient:
// the first inhale and the first repetition of an exercise, counted from 1; the first
// two where a breath carries two. They are taken from its last set, where the pace is
// the one to come to.
func Repetition(t *pacer.Timeline, exercise int) *Picture {
	const width, height = 490, 166
	part := example(t, exercise)
	return &Picture{width, height, describe(part), func(c draw.Canvas) {
		drawRepetition(stripOf(c, part, 62, width-14), t, part, forPatient, height)
	}}
}

// stripOf returns the strip for some steps between two places.
func stripOf(c draw.Canvas, part []pacer.Step, left, right vg.Length) strip {
	from, to := part[0].Start, part[len(part)-1].End()
	return strip{c, from, to, left, (right - left) / vg.Length(to-from)}
}

// example returns the steps of the first repetition in the last set of an exercise,
// with the inhale before.
func example(t *pacer.Timeline, exercise int) []pacer.Step {
	first, reps := 0, 1
	for i, s := range t.Steps {
		if s.Exercise == exercise && s.InSet() && s.Rep == 0 {
			first = i
		}
	}
	if t.Session().Breath.Match == sessions.BreathPerRep {
		reps = 2
	}
	end := slices.IndexFunc(t.Steps[first+1:], func(s pacer.Step) bool { return !s.InSet() || s.Rep > reps || s.Rep == 0 })
	if end < 0 {
		return t.Steps[first:]
	}
	return t.Steps[first : first+1+end]
}

// describe says in words what the picture of a repetition shows.
func describe(part []pacer.Step) string {
	var list []string
	for _, s := range part {
		what := forPatient.move[s.Move][0]
		if name := forPatient.breath[s.Breath]; name != nil {
			what += " and " + name[0]
		}
		list = append(list, what+", "+seconds(s.Duration))
	}
	return "Breath and movement together: " + strings.Join(list, "; ") + "."
}

// seconds writes seconds to a tenth, which is as fine as anyone can follow.
func seconds(s float64) string { return fmt.Sprintf("%g s", math.Round(s*10)/10) }

// drawRepetition draws the steps of an example below top.
func drawRepetition(s strip, t *pacer.Timeline, part []pacer.Step, n names, top vg.Length) {
	style := letters(n.size)
	line := n.size * 1.25
	breath := band{top - 4.4*line, top - 1.4*line}
	move := band{breath.bottom - 4.4*line, breath.bottom - 1.8*line}
	s.bracketReps(style, part, breath.top+4)
	s.track(leftward(style), "breath", breath)
	s.track(leftward(style), "movement", move)
	for _, p := range part[1:] {
		for _, b := range []band{breath, move} {
			s.StrokeLine2(dotted, s.x(p.Start), b.bottom, s.x(p.Start), b.top)
		}
	}
	s.drawBreath(t, breath)
	for _, w := range s.within(breaths(t)) {
		s.label(style, n.breath[w.step.Breath], w, breath.bottom-1.1*line)
	}
	s.drawMoves(t, move)
	for _, w := range s.within(moves(t)) {
		y := move.bottom - line
		if w.step.Move == pacer.MovePause {
			w.start, w.end = w.start-2, w.end+2 // it is short, and its name may go beyond it
			if w.from == 1 {
				y = move.bottom + 1.2*line
			}
		}
		s.label(style, n.move[w.step.Move], w, y)
		s.label(style, []string{seconds(w.step.Duration)}, w, y-line)
	}
}

// label writes the first of some texts that has room in a stretch in its middle.
func (s strip) label(style text.Style, words []string, w stretch, y vg.Length) {
	s.FillText(style, vg.Point{X: s.x(w.middle()), Y: y}, longest(style, s.x(w.end)-s.x(w.start)-4, words))
}

// track writes the name of a track before it.
func (s strip) track(style text.Style, name string, b band) {
	s.FillText(style, vg.Point{X: 2, Y: (b.top+b.bottom)/2 - style.Font.Size/3}, name)
}

// bracketReps marks which steps are a repetition.
func (s strip) bracketReps(style text.Style, part []pacer.Step, y vg.Length) {
	for i := 0; i < len(part); {
		end := i
		for end < len(part) && part[end].Rep == part[i].Rep {
			end++
		}
		if part[i].Rep > 0 {
			s.bracket(style, []string{fmt.Sprintf("repetition %d", part[i].Rep), fmt.Sprint(part[i].Rep)}, part[i].Start, part[end-1].End(), y)
		}
		i = end
	}
}

// bracket marks a stretch of time from above and names it.
func (s strip) bracket(style text.Style, words []string, from, to float64, y vg.Length) {
	left, right := s.x(from)+1, s.x(to)-1
	s.StrokeLines(thin, []vg.Point{{X: left, Y: y - 3}, {X: left, Y: y}, {X: right, Y: y}, {X: right, Y: y - 3}})
	s.label(style, words, stretch{start: from, end: to}, y+2)
}
