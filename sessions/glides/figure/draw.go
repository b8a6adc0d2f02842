package figure

import (
	"encoding/xml"
	"fmt"
	"math"
	"slices"
	"strings"
)

// Options are what a picture shows of a figure.
type Options struct {
	Moment float64 // of the movement out: 0 at its beginning, 1 at its end
	Share  float64 // how much of the whole way is done; 0 stands for all of it
	Left   bool    // the left arm is treated
	Arrow  bool    // where the movement out goes, and where it began, faintly
	Labels bool    // words beside the hand; in pictures that follow one another they would jump about
	Title  string  // comes before the description; "" for none
}

func (o Options) share() float64 {
	if o.Share == 0 {
		return 1
	}
	return o.Share
}

// size is the width and height of a picture.
const size = 240.0

// A picture without a close-up fills whole. One with a close-up has the person above it.
var (
	whole   = box{4, 4, size - 8, size - 8}
	upper   = box{4, 4, size - 8, 112}
	closeUp = box{8, 122, size - 16, 114}
)

// Draw returns a picture as one <svg> element. It is square, needs nothing from outside,
// and has no ids, so that several can stand in one page. Its lines have the color of the
// text around it, its areas that of the page (the system color Canvas). Its <title> says
// in words what it shows.
func Draw(f Figure, o Options) string {
	c := newCanvas(size, Describe(f, o), o.Left)
	c.drawMoment(f, o)
	return c.end()
}

// DrawPair returns the beginning of the movement and, beside it, its end with the arrow:
// a picture for a file of its own.
func DrawPair(f Figure, o Options) string {
	begin, end := o, o
	begin.Moment, begin.Arrow = 0, false
	end.Moment, end.Arrow, end.Title = 1, true, ""
	begin.Labels, end.Labels = true, true
	c := newCanvas(2*size, Describe(f, begin)+" Then: "+Describe(f, end), o.Left)
	for i, o := range []Options{begin, end} {
		fmt.Fprintf(c, `<svg x="%g" width="%g" height="%[2]g" viewBox="0 0 %[2]g %[2]g">`, float64(i)*size, size)
		c.drawMoment(f, o)
		c.WriteString("</svg>")
	}
	return c.end()
}

func newCanvas(width float64, label string, left bool) *canvas {
	c := &canvas{left: left}
	fmt.Fprintf(c, `<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 %g %g" role="img" aria-label="%s"><title>%[3]s</title>`, width, size, escape(label))
	// A program that does not know the system color takes the white.
	c.WriteString(`<g fill="#fff" stroke="#fff" stroke-linejoin="round" stroke-linecap="round"><g fill="Canvas" stroke="Canvas">`)
	return c
}

func (c *canvas) end() string {
	c.WriteString("</g></g></svg>\n")
	return c.String()
}

func (c *canvas) drawMoment(f Figure, o Options) {
	c.drawn, o.Share = nil, o.share()
	if f.CloseUp == "" {
		c.drawPerson(f, o, whole)
		return
	}
	c.drawPerson(f, o, upper)
	c.drawCloseUp(f, o)
}

// escape makes text harmless in XML; what XML cannot hold becomes U+FFFD.
func escape(text string) string {
	var b strings.Builder
	xml.EscapeText(&b, []byte(text)) // a strings.Builder never fails
	return b.String()
}

// box is a part of the picture. Each is as far from the left as from the right, so that
// it is its own mirror.
type box struct{ x, y, width, height float64 }

// erase makes a part of the picture empty again: what was drawn there lies beyond the
// edge of another part. Clipping would need an id, or an <svg> within, which the style of
// a page might change.
func (c *canvas) erase(b box) {
	fmt.Fprintf(c, `<rect x="%g" y="%g" width="%g" height="%g" stroke="none"/>`, b.x, b.y, b.width, b.height)
}

// canvas takes SVG elements, and has the place of what is seen.
type canvas struct {
	strings.Builder
	left  bool
	drawn []point // close together along all lines, where no words can be
	camera
}

// camera is from where and how large something is seen.
type camera struct {
	view   View
	turn   frame      // how what is seen is turned first
	scale  float64    // units a centimetre
	ox, oy float64    // where (0, 0) is
	edges  [2]float64 // left and right of which no limb is drawn
}

// point is a place in a picture; near is how near it is to the reader.
type point struct{ x, y, near float64 }

// seen returns where a point in space is seen, in centimetres.
func (c camera) seen(p vec) point {
	p = c.turn.of(p)
	switch c.view {
	case Side:
		return point{p.z, -p.y, p.x}
	case Above:
		return point{-p.x, p.z, p.y}
	case aboveSide:
		return point{p.z, p.x, p.y}
	}
	return point{-p.x, -p.y, p.z}
}

// at returns where a point in space is drawn, as if the right arm were treated.
func (c camera) at(p vec) point {
	q := c.seen(p)
	return point{c.ox + c.scale*q.x, c.oy + c.scale*q.y, q.near}
}

// look turns to what must be seen, with cm centimetres around it, in part of the
// picture.
func (c *canvas) look(v View, turn frame, points []vec, cm float64, in box) {
	c.camera = camera{view: v, turn: turn, edges: [2]float64{0, size}}
	low, high := point{math.Inf(1), math.Inf(1), 0}, point{math.Inf(-1), math.Inf(-1), 0}
	for _, p := range points {
		q := c.seen(p)
		low = point{min(low.x, q.x-cm), min(low.y, q.y-cm), 0}
		high = point{max(high.x, q.x+cm), max(high.y, q.y+cm), 0}
	}
	c.scale = min(in.width/(high.x-low.x), in.height/(high.y-low.y))
	c.ox = in.x + in.width/2 - c.scale*(low.x+high.x)/2
	c.oy = in.y + in.height/2 - c.scale*(low.y+high.y)/2
}

// place writes a point, mirrored for the left. It is rounded first, so that a mirrored
// picture is the exact mirror.
func (c *canvas) place(p point) string {
	x, y := math.Round(10*p.x)/10, math.Round(10*p.y)/10
	if c.left {
		x = size - x
	}
	return fmt.Sprintf("%g %g", math.Round(10*x)/10, y)
}

// line is the path along points.
func (c *canvas) line(points ...point) string {
	c.remember(points)
	var b strings.Builder
	for i, p := range points {
		b.WriteByte("ML"[min(i, 1)])
		b.WriteString(c.place(p))
	}
	return b.String()
}

// curve is a smooth path through points (Catmull–Rom).
func (c *canvas) curve(closed bool, points ...point) string {
	c.remember(points)
	n := len(points)
	get := func(i int) point {
		if closed {
			return points[(i+n)%n]
		}
		return points[min(max(i, 0), n-1)]
	}
	var b strings.Builder
	b.WriteString("M" + c.place(points[0]))
	last := n - 1
	if closed {
		last = n
	}
	for i := range last {
		before, from, to, after := get(i-1), get(i), get(i+1), get(i+2)
		c1 := point{from.x + (to.x-before.x)/6, from.y + (to.y-before.y)/6, 0}
		c2 := point{to.x - (after.x-from.x)/6, to.y - (after.y-from.y)/6, 0}
		fmt.Fprintf(&b, "C%s %s %s", c.place(c1), c.place(c2), c.place(to))
	}
	if closed {
		b.WriteByte('Z')
	}
	return b.String()
}

// project returns where points in space are drawn.
func (c camera) project(points ...vec) []point {
	list := make([]point, len(points))
	for i, p := range points {
		list[i] = c.at(p)
	}
	return list
}

// stroke draws a path without an area.
func (c *canvas) stroke(d string, width float64) {
	fmt.Fprintf(c, `<path d="%s" fill="none" stroke="currentColor" stroke-width="%.1f"/>`, d, width)
}

// area draws a path with what is inside.
func (c *canvas) area(d string, width float64) {
	fmt.Fprintf(c, `<path d="%s" stroke="currentColor" stroke-width="%.1f"/>`, d, width)
}

// group draws with a share of the ink.
func (c *canvas) group(ink float64, draw func()) {
	fmt.Fprintf(c, `<g opacity="%.2g">`, ink)
	draw()
	c.WriteString("</g>")
}

// arrow draws an arrow along points. It is free of what it starts at by gap, and of what
// it ends at by more, since its head is wider.
func (c *canvas) arrow(gap float64, points []point) {
	points = cut(points, gap, 1.5*gap)
	long := min(8, length(points)/2) // its head
	shaft := cut(points, 0, long)
	if len(shaft) < 2 {
		return
	}
	wide := .5 * long
	tip, base := points[len(points)-1], shaft[len(shaft)-1]
	k := wide / math.Hypot(tip.x-base.x, tip.y-base.y)
	dx, dy := k*(tip.x-base.x), k*(tip.y-base.y)
	d := c.curve(false, shaft...)
	fmt.Fprintf(c, `<path d="%s" fill="none" stroke-width="6"/>`, d)
	c.stroke(d, strong)
	d = c.line(tip, point{base.x - dy, base.y + dx, 0}, point{base.x + dy, base.y - dx, 0})
	fmt.Fprintf(c, `<path d="%sZ" fill="currentColor" stroke="none"/>`, d)
}

// cut returns a path without so much of its beginning and its end.
func cut(points []point, beginning, end float64) []point {
	for _, length := range []float64{beginning, end} {
		var rest []point
		for i := 1; i < len(points); i++ {
			a, b := points[i-1], points[i]
			d := math.Hypot(b.x-a.x, b.y-a.y)
			if d > length {
				k := length / d
				rest = append([]point{{a.x + k*(b.x-a.x), a.y + k*(b.y-a.y), 0}}, points[i:]...)
				break
			}
			length -= d
		}
		slices.Reverse(rest) // twice is once more the right way round
		points = rest
	}
	return points
}
