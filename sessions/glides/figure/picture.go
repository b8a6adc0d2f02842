package figure

import (
	"fmt"
	"math"
)

// faint is the ink of the beginning of the movement in a picture of a later moment.
const faint = .4

// way returns where points of the body are during the movement out.
func way(f Figure, share float64, of ...func(skeleton) vec) (points []vec) {
	const steps = 24
	for i := range steps + 1 {
		s := skeletonOf(f.At(float64(i)/steps, share))
		for _, point := range of {
			points = append(points, point(s))
		}
	}
	return points
}

func wristOf(s skeleton) vec { return s.wrist }

// forearmOf is a place on the forearm where an arrow is free of the hand.
func forearmOf(s skeleton) vec { return s.elbow.to(s.wrist, .75) }

// beyond is a little farther out than a fingertip, where an arrow is free of the hand.
func beyond(finger int) func(skeleton) vec {
	return func(s skeleton) vec { return s.wrist.to(s.tip(finger), 1.15) }
}

func crownOf(s skeleton) vec { return s.neck.add(s.head.of(vec{y: 30})) }

// handWay returns all that the hand, and another point, reach in the whole movement.
func handWay(f Figure, other func(skeleton) vec) []vec {
	of := []func(skeleton) vec{wristOf, other}
	for i := range fingers {
		of = append(of, beyond(i))
	}
	return way(f, 1, of...)
}

// drawPerson draws the person. Where there is a close-up, only that shows what moves.
func (c *canvas) drawPerson(f Figure, o Options, in box) {
	must := handWay(f, crownOf)
	if f.CloseUp == "" {
		must = append(must, bendWay(f, 1)...)
	}
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
	c.look(f.View, upright, must, around, in)
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
	switch {
	case !o.Labels:
	case f.CloseUp == "":
		c.labelPalm(now, in)
	default:
		if f.Sitting && onThigh(now) {
			c.label([]string{"the forearm rests", "on the thigh"}, c.at(now.wrist), point{x: 1}, in)
		}
		if f.View == Front && now.tip(middle).z < now.wrist.z-12 {
			c.label([]string{"fingers point", "behind you"}, c.at(now.wrist), point{x: -1}, in)
		}
	}
}

// drawCloseUp draws the hand enlarged, and says where it is seen from.
func (c *canvas) drawCloseUp(f Figure, o Options) {
	view := f.CloseUp
	if view == Above && f.View == Side {
		view = aboveSide
	}
	from, now := skeletonOf(f.At(0, o.Share)), skeletonOf(f.At(o.Moment, o.Share))
	must := handWay(f, func(s skeleton) vec { return s.wrist.to(s.elbow, .2) })
	inner := box{closeUp.x + 2, closeUp.y + 19, closeUp.width - 52, closeUp.height - 21} // with room for words
	if view == Above {
		inner.height -= 18 // words below
	}
	c.camera = camera{view: view, turn: level(view, from)}
	if c.seen(skeletonOf(f.End).palmFaces()).x < 0 {
		inner.x += 48 // the words are before the palm
	}
	c.look(view, level(view, from), must, 3, inner)
	c.drawn = nil
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
	if o.Labels {
		c.labelPalm(now, box{left - 4, closeUp.y + 4, right - left + 8, closeUp.height - 8})
	}
}

// level turns an arm that is seen from above so that the forearm is level, as far as the
// view is still one from above: then only the wrist seems to turn as it bends.
func level(v View, s skeleton) frame {
	along := s.wrist.add(s.elbow.times(-1))
	lift := func(out float64) float64 { // degrees
		return min(max(90-math.Atan2(out, -along.y)*180/math.Pi, -45), 45)
	}
	switch v {
	case Above:
		return upright.swingOut(lift(along.x))
	case aboveSide:
		return upright.swingForward(lift(along.z))
	}
	return upright
}

// drawArrows draws where the movement out goes: the forearm if that moves, and the hand
// as seen from there; else the tip of the middle finger, else thumb and little finger;
// and the head. If they move one after the other, it says so.
func (c *canvas) drawArrows(f Figure, o Options) {
	draw := func(gap float64, way []vec) bool {
		points := c.project(way...)
		long := length(points)
		if long < 5 {
			return false
		}
		c.arrow(min(gap*c.scale, long/6), points)
		half := len(points) / 2
		first, then := points[:half+1], points[half:]
		switch {
		case f.Back == nil:
		case length(then) < 1:
			c.label([]string{"first"}, first[0], away(first), whole)
		case length(first) < 1:
			c.label([]string{"then"}, then[0], away(then), whole)
		}
		return true
	}
	alongWay := func(gap float64, of func(skeleton) vec) bool { return draw(gap, way(f, o.Share, of)) }
	alongWay(0, crownOf)
	switch {
	case alongWay(3, forearmOf):
		bend := bendWay(f, o.Share)
		if draw(0, bend) { // no words where it begins, as if it led away from them
			c.remember(c.project(bend[0].to(bend[3], -1.5), bend[0]))
		}
	case alongWay(0, beyond(middle)):
	default:
		alongWay(0, beyond(0))
		alongWay(0, beyond(len(fingers)-1))
	}
}

// bendWay returns where the fingertips would be if only the wrist bent, where the
// movement out ends: the last half of that way.
func bendWay(f Figure, share float64) []vec {
	p := f.At(1, share)
	from, to := f.At(0, share).Wrist, p.Wrist
	const steps = 12
	var points []vec
	for i := range steps + 1 {
		p.Wrist = from + (to-from)*(1+float64(i)/steps)/2
		s := skeletonOf(p)
		points = append(points, s.wrist.to(s.tip(middle), 1.2))
	}
	return points
}

// away points back from the beginning of an arrow.
func away(arrow []point) point {
	a, b := arrow[0], arrow[len(arrow)/4]
	return point{a.x - b.x, a.y - b.y, 0}
}

func length(points []point) float64 {
	sum := 0.
	for i := 1; i < len(points); i++ {
		sum += math.Hypot(points[i].x-points[i-1].x, points[i].y-points[i-1].y)
	}
	return sum
}
