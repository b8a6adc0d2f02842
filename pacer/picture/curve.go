package picture

import (
	"math"

	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"

	"glidepace/pacer"
)

// stretch is a time in which breath or movement goes from one level to another: 0 is
// out of breath, or the start position; 1 is full of breath, or the end of the glide.
type stretch struct {
	step       pacer.Step // the first of them, where the breath flows on through several
	start, end float64    // seconds
	from, to   float64
}

func (s stretch) middle() float64 { return (s.start + s.end) / 2 }

// breaths returns the breath of a timeline. Free breath has no level.
func breaths(t *pacer.Timeline) (list []stretch) {
	level := 0.0
	for i, s := range t.Steps {
		if t.FlowsOn(i) {
			list[len(list)-1].end = s.End()
			continue
		}
		next := stretch{s, s.Start, s.End(), level, level}
		switch s.Breath {
		case pacer.Inhale:
			next.from, next.to = 0, 1
		case pacer.Exhale:
			next.from, next.to = 1, 0
		}
		level = next.to
		list = append(list, next)
	}
	return list
}

// moves returns the movement of a timeline.
func moves(t *pacer.Timeline) (list []stretch) {
	level := 0.0
	for _, s := range t.Steps {
		switch s.Move {
		case pacer.Glide:
			list = append(list, stretch{s, s.Start, s.End(), 0, 1})
		case pacer.Return:
			list = append(list, stretch{s, s.Start, s.End(), 1, 0})
		default:
			list = append(list, stretch{s, s.Start, s.End(), level, level})
		}
		level = list[len(list)-1].to
	}
	return list
}

// strip is a stretch of time that goes across a picture from left to right.
type strip struct {
	draw.Canvas
	from, to float64 // seconds
	left     vg.Length
	scale    vg.Length // the width of a second
}

func (s strip) x(seconds float64) vg.Length { return s.left + vg.Length(seconds-s.from)*s.scale }

// instant is shorter than anything that is drawn, and longer than an error of rounding.
const instant = 1e-6 // seconds

// within returns the parts of a list in the time of the strip. Only what is level may
// be cut.
func (s strip) within(list []stretch) (part []stretch) {
	for _, w := range list {
		w.start, w.end = max(w.start, s.from), min(w.end, s.to)
		if w.end-w.start > instant {
			part = append(part, w)
		}
	}
	return part
}

// band is the room for a curve between its lowest and its highest level.
type band struct{ bottom, top vg.Length }

func (b band) y(level float64) vg.Length { return b.bottom + vg.Length(level)*(b.top-b.bottom) }

// bend is how far the handles of a curve reach over its width, so that it is nearly
// half a wave of a sine: slow at both ends, as a breath and a limb are.
const bend = 0.3642

// path returns stretches as one line. Where the level jumps it begins anew.
func (s strip) path(list []stretch, b band) (path vg.Path) {
	for i, w := range list {
		from, to := vg.Point{X: s.x(w.start), Y: b.y(w.from)}, vg.Point{X: s.x(w.end), Y: b.y(w.to)}
		if i == 0 || list[i-1].to != w.from {
			path.Move(from)
		}
		if w.from == w.to {
			path.Line(to)
			continue
		}
		reach := bend * (to.X - from.X)
		path.CubeTo(vg.Point{X: from.X + reach, Y: from.Y}, vg.Point{X: to.X - reach, Y: to.Y}, to)
	}
	return path
}

// drawBreath draws the breath: a curve where it is paced, a dashed level line where it
// is free.
func (s strip) drawBreath(t *pacer.Timeline, b band) {
	var run []stretch
	flush := func() {
		if len(run) > 0 {
			s.SetLineStyle(thick)
			s.Stroke(s.path(run, b))
			run = nil
		}
	}
	for _, w := range s.within(breaths(t)) {
		if w.step.Breath != pacer.Free {
			run = append(run, w)
			continue
		}
		flush()
		s.StrokeLine2(dashed, s.x(w.start)+2, b.y(.5), s.x(w.end)-2, b.y(.5))
	}
	flush()
}

// drawMoves draws the movement with its shade below. In the other times, such as the
// set-up, a frame has room for a name.
func (s strip) drawMoves(t *pacer.Timeline, b band) {
	var run []stretch
	flush := func() {
		if len(run) == 0 {
			return
		}
		line := s.path(run, b)
		area := append(line[:len(line):len(line)], vg.PathComp{Type: vg.LineComp, Pos: vg.Point{X: s.x(run[len(run)-1].end), Y: b.bottom}})
		area.Close()
		s.SetColor(shade)
		s.Fill(area)
		s.SetLineStyle(medium)
		s.Stroke(line)
		run = nil
	}
	for _, w := range s.within(moves(t)) {
		if w.step.Breath != pacer.Free {
			run = append(run, w)
			continue
		}
		flush()
		left, right := s.x(w.start)+1, s.x(w.end)-1
		s.StrokeLines(thin, []vg.Point{{X: left, Y: b.bottom}, {X: right, Y: b.bottom}, {X: right, Y: b.top}, {X: left, Y: b.top}, {X: left, Y: b.bottom}})
	}
	flush()
}

// ticks are the distances of labels on a time axis and of the marks between, in
// seconds.
var ticks = []struct{ label, mark float64 }{{5, 1}, {10, 2}, {30, 10}, {60, 10}, {120, 30}, {300, 60}, {600, 120}, {1800, 300}, {3600, 600}, {7200, 1800}}

// drawAxis draws the time in minutes and seconds.
func (s strip) drawAxis(y vg.Length) {
	style := letters(small)
	step := ticks[len(ticks)-1]
	for _, t := range ticks {
		if vg.Length(t.label)*s.scale >= 1.4*style.Width("00:00") {
			step = t
			break
		}
	}
	s.StrokeLine2(thin, s.x(s.from), y, s.x(s.to), y)
	for n := int(math.Ceil(s.from / step.mark)); float64(n)*step.mark <= s.to; n++ {
		seconds := float64(n) * step.mark
		x, length := s.x(seconds), vg.Length(2)
		if n%int(step.label/step.mark) == 0 {
			length = 4
			s.FillText(style, vg.Point{X: x, Y: y - 5 - small}, pacer.Clock(seconds))
		}
		s.StrokeLine2(thin, x, y, x, y-length)
	}
}
