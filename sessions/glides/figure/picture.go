package figure

import (
	"fmt"
	"math"
)

// faint is the ink of the beginning of the movement in a picture of a later moment.
const faint = .4

// way returns where a point of the body is during the movement out.
func way(f Figure, share float64, of func(skeleton) vec) []vec {
	const steps = 24
	var points []vec
	for i := range steps + 1 {
		points = append(points, of(skeletonOf(f.At(float64(i)/steps, share))))
	}
	return points
}

func wristOf(s skeleton) vec { return s.wrist }

// beyond is a little farther out than a fingertip, where an arrow is free of the hand.
func beyond(finger int) func(skeleton) vec {
	return func(s skeleton) vec { return s.wrist.to(s.tip(finger), 1.15) }
}

func crownOf(s skeleton) vec { return s.neck.add(s.head.of(vec{y: 30})) }

// handWay returns all that the hand reaches in the whole movement.
func handWay(f Figure) []vec {
	points := way(f, 1, wristOf)
	for i := range fingers {
		points = append(points, way(f, 1, beyond(i))...)
	}
	return points
}

// drawPerson draws the person. Where there is a close-up, only that shows what moves.
func (c *canvas) drawPerson(f Figure, o Options, in box) {
	must := append(handWay(f), way(f, 1, crownOf)...)
	bottom := hipY + 5
	if f.CloseUp != "" {
		bottom = -26
	}
	for _, x := range []float64{-26, 20} {
		must = append(must, vec{x: x, y: bottom, z: x / 2})
	}
	if f.Sitting {
		must = append(must, vec{y: -60, z: 48})
	}
	around := 2.5
	if f.CloseUp != "" { // room for the ring
		around = 8
	}
	c.look(f.View, must, around, in)
	from, now := skeletonOf(f.At(0, o.Share)), skeletonOf(f.At(o.Moment, o.Share))
	arrows := o.Arrow && f.CloseUp == ""
	if arrows && from.head != now.head {
		c.group(faint, func() { c.stroke(c.outlineOfHead(from), thin) })
	}
	c.drawBody(now, f.Sitting)
	if arrows {
		c.group(faint, func() { c.drawArm(from, thin) })
	}
	c.drawArm(now, strong)
	if arrows {
		c.drawArrows(f, o)
	}
	if f.CloseUp != "" {
		ring := c.circle(c.at(now.onHand(vec{y: -8})), 15*c.scale)
		fmt.Fprintf(c, `<path d="%s" fill="none" stroke="currentColor" stroke-width="%g" stroke-dasharray="3 3"/>`, ring, thin)
		c.erase(box{0, in.y + in.height, size, size - in.y - in.height})
	}
}

// drawCloseUp draws the hand enlarged, and says where it is seen from.
func (c *canvas) drawCloseUp(f Figure, o Options) {
	view := f.CloseUp
	if view == Above && f.View == Side {
		view = aboveSide
	}
	from, now := skeletonOf(f.At(0, o.Share)), skeletonOf(f.At(o.Moment, o.Share))
	must := append(handWay(f), way(f, 1, func(s skeleton) vec { return s.wrist.to(s.elbow, .2) })...)
	inner := box{closeUp.x + 2, closeUp.y + 19, closeUp.width - 4, closeUp.height - 21}
	if view == Above {
		inner.height -= 14 // words below
	}
	c.look(view, must, 3, inner)
	c.edges = [2]float64{closeUp.x - 4, size - closeUp.x + 4}
	if o.Arrow {
		c.group(faint, func() { c.drawArm(from, thin) })
	}
	c.drawArm(now, strong)
	if o.Arrow {
		c.drawArrows(f, o)
	}
	c.erase(box{0, closeUp.y, closeUp.x, closeUp.height})
	c.erase(box{size - closeUp.x, closeUp.y, closeUp.x, closeUp.height})
	fmt.Fprintf(c, `<rect x="%g" y="%g" width="%g" height="%g" rx="5" fill="none" stroke="currentColor" stroke-width="%g"/>`, closeUp.x, closeUp.y, closeUp.width, closeUp.height, thin)
	left, right, top, bottom := closeUp.x+8, size-closeUp.x-8, closeUp.y+16, closeUp.y+closeUp.height-8
	c.text(point{right, top, 0}, "end", "the hand, from "+map[View]string{Front: "the front", Side: "the side", Above: "above"}[f.CloseUp])
	if view == Above {
		c.text(point{left, top, 0}, "start", "behind you")
		c.text(point{left, bottom, 0}, "start", "in front of you")
	}
}

// text writes words; anchor is where the point is for a right arm: "start", "middle",
// "end".
func (c *canvas) text(at point, anchor, words string) {
	if c.left {
		anchor = map[string]string{"start": "end", "end": "start", "middle": "middle"}[anchor]
		at.x = size - at.x
	}
	fmt.Fprintf(c, `<text x="%.1f" y="%.1f" text-anchor="%s" font-family="sans-serif" font-size="13" fill="currentColor" stroke="none">%s</text>`, at.x, at.y, anchor, words)
}

// drawArrows draws where the movement out goes: the wrist if that moves, else the tip of
// the middle finger, else thumb and little finger; and the head. If they move one after
// the other, they are numbered.
func (c *canvas) drawArrows(f Figure, o Options) {
	draw := func(gap float64, of func(skeleton) vec) bool {
		points := c.project(way(f, o.Share, of)...)
		whole := length(points)
		if whole < 5 {
			return false
		}
		c.arrow(min(gap*c.scale, whole/6), points)
		half := len(points) / 2
		first, then := points[:half+1], points[half:]
		switch {
		case f.Back == nil:
		case length(then) < 1:
			c.number("1", first)
		case length(first) < 1:
			c.number("2", then)
		}
		return true
	}
	draw(0, crownOf)
	if draw(3, wristOf) || draw(0, beyond(middle)) {
		return
	}
	draw(0, beyond(0))
	draw(0, beyond(len(fingers)-1))
}

// number writes a number before the beginning of an arrow.
func (c *canvas) number(n string, arrow []point) {
	a, b := arrow[0], arrow[len(arrow)/4]
	k := 9 / math.Hypot(b.x-a.x, b.y-a.y)
	c.text(point{a.x - k*(b.x-a.x), a.y - k*(b.y-a.y) + 4.5, 0}, "middle", n)
}

func length(points []point) float64 {
	sum := 0.
	for i := 1; i < len(points); i++ {
		sum += math.Hypot(points[i].x-points[i-1].x, points[i].y-points[i-1].y)
	}
	return sum
}
