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
	const steps = 6
	for i := range steps + 1 {
		edge = append(edge, on(b, r2, along-open+2*open*float64(i)/steps))
	}
	for i := range steps + 1 {
		edge = append(edge, on(a, r1, along+open+2*(math.Pi-open)*float64(i)/steps))
	}
	return c.line(edge...) + "Z"
}

func (c *canvas) circle(at point, r float64) string {
	var edge []point
	for i := range 8 {
		s, k := math.Sincos(float64(i) * math.Pi / 4)
		edge = append(edge, point{at.x + r*k, at.y + r*s, 0})
	}
	return c.curve(true, edge...)
}

// The palm is a slab: this outline, with half its thickness around it.
var palmEdge = []vec{{y: -.5, z: 1.6}, {y: -3.2, z: 2.9}, {y: -palm + 1, z: 3}, {y: -palm + .4, z: 1}, {y: -palm + 1, z: -1.3}, {y: -palm + 1.8, z: -3}, {y: -3, z: -2.8}, {y: -.5, z: -1.6}}

const (
	palmThick   = 2.4
	fingerThick = 1.9
)

// drawArm draws the arm with the hand, as one outline.
func (c *canvas) drawArm(s skeleton, width float64) {
	onHand := func(points []vec) []point {
		var list []point
		for _, p := range points {
			list = append(list, c.at(s.wrist.add(s.hand.of(p))))
		}
		return list
	}
	behind, before := c.inDepth(s)
	for _, f := range behind {
		c.drawFinger(s, f, width)
	}
	bones := []string{
		c.hull(limb{s.shoulder, s.elbow, 4.4, 3.4}),
		c.hull(limb{s.elbow, s.wrist, 3.5, 2.3}),
	}
	slab, thick := c.line(onHand(palmEdge)...)+"Z", c.scale*palmThick
	for _, d := range bones {
		c.area(d, 2*width)
	}
	c.area(slab, thick+2*width)
	for _, d := range bones {
		c.inside(d, 0)
	}
	c.inside(slab, thick)
	for _, f := range before {
		c.drawFinger(s, f, width)
		// The line around a finger ends where it leaves the palm.
		root := s.fingers[f][0]
		c.inside(c.line(c.at(root), c.at(s.wrist.add(s.hand.of(fingers[f].root.times(.75))))), c.scale*fingerThick+2*width)
	}
	if c.view.seen(s.palmFaces()).near > .35 {
		for _, crease := range palmCreases {
			c.stroke(c.curve(false, onHand(crease)...), width/2)
		}
	}
}

// palmCreases are lines of the palm: around the ball of the thumb, and across.
var palmCreases = [][]vec{
	{{-1, -1.5, -.2}, {-1, -4.5, .2}, {-1, -7.3, 3.2}},
	{{-1, -7.6, -3.2}, {-1, -8.4, -.5}, {-1, -9.6, 1.2}},
}

// inDepth returns the fingers that are behind the palm and the others, the farthest
// first.
func (c *canvas) inDepth(s skeleton) (behind, before []int) {
	near := func(f int) float64 { return c.at(s.fingers[f][0].to(s.tip(f), .5)).near }
	order := []int{4, 3, 2, 1, 0}
	slices.SortStableFunc(order, func(a, b int) int { return cmp.Compare(near(a), near(b)) })
	palm := c.at(s.wrist.add(s.hand.of(vec{y: -palm / 2}))).near
	for len(order) > 0 && near(order[0]) < palm-2 {
		behind, order = append(behind, order[0]), order[1:]
	}
	return behind, order
}

// drawFinger draws a finger, with its nail where the back of it is seen.
func (c *canvas) drawFinger(s skeleton, f int, width float64) {
	d := c.line(c.project(s.fingers[f][:]...)...)
	w := c.scale * fingerThick
	c.stroke(d, w+2*width)
	c.inside(d, w)
}

// inside draws what is inside an outline.
func (c *canvas) inside(d string, width float64) {
	if width == 0 {
		fmt.Fprintf(c, `<path d="%s" stroke="none"/>`, d)
		return
	}
	fmt.Fprintf(c, `<path d="%s" stroke="Canvas" stroke-width="%.1f"/>`, d, width)
}
