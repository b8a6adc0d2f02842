package figure

import "math"

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

func tipOf(finger int) func(skeleton) vec {
	return func(s skeleton) vec { return s.tip(finger) }
}

func crownOf(s skeleton) vec { return s.neck.add(s.head.of(vec{y: 28})) }

// drawWhole draws the person. Where the hand is shown once more below, the picture is
// smaller and has no arrow.
func (c *canvas) drawWhole(f Figure, o Options) {
	bottom := size - margin
	if f.CloseUp != "" {
		bottom = closeUpAt
	}
	var must []vec
	for i := range fingers {
		must = append(must, way(f, 1, tipOf(i))...)
	}
	must = append(must, way(f, 1, wristOf)...)
	must = append(must, way(f, 1, crownOf)...)
	rest := skeletonOf(f.Start)
	for _, x := range []float64{-22, 22} { // the trunk, down to the hips
		must = append(must, rest.shoulder, vec{x: x, y: hipY - 6, z: x / 2}, vec{x: x, y: -2, z: x / 2})
	}
	if f.Sitting {
		must = append(must, vec{y: -66, z: 48})
	}
	c.look(f.View, must, 3, margin, bottom)

	s := skeletonOf(f.At(o.Moment, o.Share))
	c.drawBody(s, f.Sitting)
	if o.Arrow && f.CloseUp == "" {
		c.group(.35, func() { c.drawArm(skeletonOf(f.At(0, o.Share)), thin) })
	}
	c.drawArm(s, strong)
	if o.Arrow && f.CloseUp == "" {
		c.drawArrows(f, o)
	}
}

// drawArrows draws where the movement out goes: the wrist if that moves, else the tip of
// the middle finger, else thumb and little finger; and the head.
func (c *canvas) drawArrows(f Figure, o Options) {
	const least, gap = 5, 2 // centimetres
	crown := c.project(way(f, o.Share, crownOf)...)
	if length(crown) > least*c.scale {
		c.arrow(0, crown)
	}
	for _, points := range [][]func(skeleton) vec{{wristOf}, {tipOf(middle)}, {tipOf(0), tipOf(len(fingers) - 1)}} {
		drawn := false
		for _, of := range points {
			if p := c.project(way(f, o.Share, of)...); length(p) > least*c.scale {
				c.arrow(gap*c.scale, p)
				drawn = true
			}
		}
		if drawn {
			return
		}
	}
}

func length(points []point) float64 {
	sum := 0.
	for i := 1; i < len(points); i++ {
		sum += math.Hypot(points[i].x-points[i-1].x, points[i].y-points[i-1].y)
	}
	return sum
}

// drawCloseUp draws the hand enlarged, and where it is seen from.
func (c *canvas) drawCloseUp(f Figure, o Options) {
	var must []vec
	for i := range fingers {
		must = append(must, way(f, 1, tipOf(i))...)
	}
	s := skeletonOf(f.At(o.Moment, o.Share))
	must = append(must, s.wrist, s.wrist.to(s.elbow, .35))
	c.look(f.CloseUp, must, 3, closeUpAt+8, size-margin)
	if o.Arrow {
		c.group(.35, func() { c.drawArm(skeletonOf(f.At(0, o.Share)), thin) })
	}
	c.drawArm(s, strong)
	if o.Arrow {
		c.drawArrows(f, o)
	}
}
