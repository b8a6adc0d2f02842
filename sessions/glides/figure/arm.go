package figure

import (
	"cmp"
	"fmt"
	"math"
	"slices"
)

// Outlines of the arm and what is around it, in units of the picture.
const (
	strong = 2.2 // the arm that is treated
	thin   = 1.2 // everything else
)

// limb is a part of the body between two round ends.
type limb struct {
	from, to vec
	r1, r2   float64 // of the ends, in centimetres
}

// hull is the path around a limb.
func (c *canvas) hull(l limb) string {
	a, b := c.at(l.from), c.at(l.to)
	r1, r2 := c.scale*l.r1, c.scale*l.r2
	d := math.Hypot(b.x-a.x, b.y-a.y)
	if d <= math.Abs(r1-r2) { // seen along its length
		return c.circle(b, r2)
	}
	along := math.Atan2(b.y-a.y, b.x-a.x)
	open := math.Acos((r1 - r2) / d)
	on := func(p point, r, angle float64) point {
		return point{p.x + r*math.Cos(angle), p.y + r*math.Sin(angle), 0}
	}
	var edge []point
	const steps = 10
	for i := range steps + 1 {
		edge = append(edge, on(b, r2, along-open+2*open*float64(i)/steps))
	}
	for i := range steps + 1 {
		edge = append(edge, on(a, r1, along+open+2*(math.Pi-open)*float64(i)/steps))
	}
	edge = clip(edge, c.edges[0], 1)
	edge = clip(edge, c.edges[1], -1)
	return c.line(edge...) + "Z"
}

// clip returns what of an area is to the right of x (side 1) or to the left (side -1).
func clip(edge []point, x, side float64) []point {
	var rest []point
	for i, a := range edge {
		b := edge[(i+1)%len(edge)]
		if side*(a.x-x) >= 0 {
			rest = append(rest, a)
		}
		if (a.x-x)*(b.x-x) < 0 {
			k := (x - a.x) / (b.x - a.x)
			rest = append(rest, point{x, a.y + k*(b.y-a.y), 0})
		}
	}
	return rest
}

func (c *canvas) circle(at point, r float64) string {
	var edge []point
	for i := range 8 {
		s, k := math.Sincos(float64(i) * math.Pi / 4)
		edge = append(edge, point{at.x + r*k, at.y + r*s, 0})
	}
	return c.curve(true, edge...)
}

// The palm is a slab: this outline, with half its thickness around it. The creases are
// around the ball of the thumb, and across.
var (
	palmEdge    = []vec{{y: -.4, z: 1.3}, {y: -2.7, z: 2.4}, {y: -8.2, z: 2.5}, {y: -8.7, z: .8}, {y: -8.2, z: -1.1}, {y: -7.5, z: -2.5}, {y: -2.5, z: -2.3}, {y: -.4, z: -1.3}}
	palmCreases = [][]vec{{{-1, -1.2, -.2}, {-1, -3.7, .1}, {-1, -6, 2.6}}, {{-1, -6.3, -2.6}, {-1, -6.9, -.4}, {-1, -8, 1}}}
)

const (
	palmThick   = larger * 2.3
	fingerThick = larger * 1.6
)

// drawArm draws the arm with the hand, as one outline.
func (c *canvas) drawArm(s skeleton, width float64) {
	onHand := func(points []vec) []point {
		var list []point
		for _, p := range points {
			list = append(list, c.at(s.onHand(p)))
		}
		return list
	}
	fine := min(.75*width, .25*c.scale*fingerThick) // around fingers
	behind, before := c.inDepth(s)
	for _, f := range behind {
		c.drawFinger(s, f, fine)
	}
	bones := []string{
		c.hull(limb{s.shoulder, s.elbow, 4.4, 3.2}),
		c.hull(limb{s.elbow, s.wrist, 3.4, 2.2}),
	}
	slab, thick := c.line(onHand(palmEdge)...)+"Z", c.scale*palmThick
	for _, d := range bones {
		c.area(d, 2*width)
	}
	c.area(slab, thick+2*min(width, 1.4*fine))
	for _, d := range bones {
		c.inside(d, 0)
	}
	c.inside(slab, thick)
	// The line around a finger ends where it leaves the palm; seen from the edge of the
	// hand, a little of it stays as a knuckle.
	hidden := c.scale * fingerThick
	if math.Abs(c.toward(s.palmFaces())) > .35 {
		hidden += 2 * fine
	}
	for _, f := range before {
		c.drawFinger(s, f, fine)
		c.inside(c.line(onHand([]vec{fingers[f].root, fingers[f].root.times(.75)})...), hidden)
	}
	if c.toward(s.palmFaces()) > .35 {
		for _, crease := range palmCreases {
			c.stroke(c.curve(false, onHand(crease)...), .7*fine)
		}
	}
}

// toward returns how much a direction points to the reader, from -1 to 1.
func (c camera) toward(v vec) float64 { return c.seen(v).near }

// inDepth returns the fingers that are behind the palm and the others, the farthest
// first.
func (c *canvas) inDepth(s skeleton) (behind, before []int) {
	near := func(f int) float64 { return c.toward(s.fingers[f][0].to(s.tip(f), .5)) }
	order := []int{4, 3, 2, 1, 0}
	slices.SortStableFunc(order, func(a, b int) int { return cmp.Compare(near(a), near(b)) })
	palm := c.toward(s.onHand(vec{y: -4.5}))
	for len(order) > 0 && near(order[0]) < palm-2 {
		behind, order = append(behind, order[0]), order[1:]
	}
	return behind, order
}

// drawFinger draws a finger, with its nail where that is seen.
func (c *canvas) drawFinger(s skeleton, f int, width float64) {
	bones := s.fingers[f]
	d, thick := c.line(c.project(bones[:]...)...), c.scale*fingerThick
	c.stroke(d, thick+2*width)
	c.inside(d, thick)
	if c.toward(s.palmFaces()) < -.35 && f != 0 {
		nail := c.project(bones[3].to(bones[2], .3), bones[3].to(bones[2], -.1))
		c.stroke(c.line(nail...), .45*thick)
		c.inside(c.line(nail...), .45*thick-width)
	}
}

// inside draws what is inside an outline.
func (c *canvas) inside(d string, width float64) {
	if width == 0 {
		fmt.Fprintf(c, `<path d="%s" stroke="none"/>`, d)
		return
	}
	fmt.Fprintf(c, `<path d="%s" stroke-width="%.1f"/>`, d, width)
}
