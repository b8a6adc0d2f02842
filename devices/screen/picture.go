package screen

import (
	"math"

	"glidepace/devices/screen/scene"
	"glidepace/sessions"
)

// The picture shows a limb that reaches in from below and swings about a joint. Its
// hand moves on part of a circle between two rings, the ends of the movement. The
// circle is as wide as the window, so that a slow movement is seen from across a
// room; in a low window it is flat, and the joint is out of sight.

// picture draws the picture of a page; nil where there is none, or no room for it.
func picture(p scene.Page, columns, rows int) *canvas {
	switch {
	case p.Arm == scene.Moving && rows >= 3:
		return swing(columns, rows, p.Hand, p.Far, p.Side)
	case p.Arm == scene.Hangs && rows >= 7:
		return hanging(columns, rows, p.Side)
	}
	return nil
}

// swing draws the hand at position p of the movement, whose path ends at far (1 is
// the whole of it). The right side moves from left to right, the left side the
// other way.
func swing(columns, rows int, p, far float64, side sessions.Side) *canvas {
	c := newCanvas(columns, rows)
	w, h := float64(c.w), float64(c.h)
	hand := min(max(h/8, 1.5), 4) // its radius
	chord := w - 2*(hand+1)
	rise := min(h*.4, chord/2)
	radius := (chord*chord/4 + rise*rise) / (2 * rise)
	joint := point{w / 2, hand + .5 + radius}
	reach := math.Asin(chord / 2 / radius) // the angle from the middle to an end
	on := func(p float64) point {
		a := reach * (2*p - 1)
		if side == sessions.Left {
			a = -a
		}
		return point{joint.x + radius*math.Sin(a), joint.y - radius*math.Cos(a)}
	}

	dots := math.Round(2 * reach * radius / 3)
	for i := 1.0; i < dots*far; i++ {
		d := on(i / dots)
		c.set(int(d.x), int(d.y), plain)
	}
	for _, end := range []float64{0, far} {
		c.ring(on(end), hand+.5, plain)
	}
	drawLimb(c, on(p), joint, hand)
	return c
}

// drawLimb draws a straight limb from its hand toward a joint. A gap at the
// wrist tells the hand from the limb without colour.
func drawLimb(c *canvas, at, joint point, hand float64) {
	gap := (hand + 1.5) / distance(at, joint)
	wrist := point{at.x + (joint.x-at.x)*gap, at.y + (joint.y-at.y)*gap}
	c.limb(wrist, joint, hand*.6, plain)
	c.disc(at, hand+.5, bright)
}

// hanging draws a person, seen from behind, whose arm hangs loose.
func hanging(columns, rows int, side sessions.Side) *canvas {
	c := newCanvas(columns, rows)
	w, h := float64(c.w), float64(c.h)
	dir := 1.0
	if side == sessions.Left {
		dir = -1
	}
	head, thick := h*.13, max(h*.035, .6)
	middle, neck := math.Floor(w/2), 2*head+1+thick
	shoulder := func(dir float64) point { return point{middle + dir*h*.22, neck + thick} }
	c.disc(point{middle, head + .5}, head, plain)
	c.limb(shoulder(-1), shoulder(1), thick*1.5, plain)
	c.limb(point{middle, neck}, point{middle, h}, h*.09, plain)
	c.limb(point{shoulder(-dir).x, h * .8}, shoulder(-dir), thick, plain)
	drawLimb(c, point{shoulder(dir).x + dir, h * .85}, shoulder(dir), thick*2)
	return c
}
