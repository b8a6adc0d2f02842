package screen

import (
	"math"
	"strings"
)

// ink is what a dot of a canvas shows. Where two overlap, the higher one wins.
type ink uint8

const (
	blank ink = iota
	plain
	bright
)

// canvas is a grid of square dots, two to a character cell: half blocks are
// in every font, the console's included, and as wide as they are high.
type canvas struct {
	w, h int
	dots []ink
}

func newCanvas(columns, rows int) *canvas {
	return &canvas{w: columns, h: 2 * rows, dots: make([]ink, columns*2*rows)}
}

func (c *canvas) at(x, y int) ink {
	if x < 0 || y < 0 || x >= c.w || y >= c.h {
		return blank
	}
	return c.dots[y*c.w+x]
}

func (c *canvas) set(x, y int, k ink) {
	if x >= 0 && y >= 0 && x < c.w && y < c.h {
		c.dots[y*c.w+x] = max(c.dots[y*c.w+x], k)
	}
}

type point struct{ x, y float64 }

// fill inks every dot whose centre is inside.
func (c *canvas) fill(k ink, inside func(point) bool) {
	for y := range c.h {
		for x := range c.w {
			if inside(point{float64(x) + .5, float64(y) + .5}) {
				c.set(x, y, k)
			}
		}
	}
}

func distance(a, b point) float64 { return math.Hypot(a.x-b.x, a.y-b.y) }

func (c *canvas) disc(m point, r float64, k ink) {
	c.fill(k, func(p point) bool { return distance(p, m) <= r })
}

func (c *canvas) ring(m point, r float64, k ink) {
	c.fill(k, func(p point) bool { d := distance(p, m); return d <= r && d > r-1 })
}

// limb draws a straight limb from a to b, r in half its width at a, that
// widens gently toward b.
func (c *canvas) limb(a, b point, r float64, k ink) {
	length := distance(a, b)
	ux, uy := (b.x-a.x)/length, (b.y-a.y)/length
	c.fill(k, func(p point) bool {
		along := (p.x-a.x)*ux + (p.y-a.y)*uy
		across := math.Abs((p.x-a.x)*uy - (p.y-a.y)*ux)
		return along >= 0 && along <= length && across <= r*(1+along/50)
	})
}

// lines returns the canvas as rows of text.
func (c *canvas) lines(p paint) []string {
	rows := make([]string, c.h/2)
	for r := range rows {
		var b strings.Builder
		for x := 0; x < c.w; {
			k := max(c.at(x, 2*r), c.at(x, 2*r+1))
			var run strings.Builder
			for ; x < c.w && max(c.at(x, 2*r), c.at(x, 2*r+1)) == k; x++ {
				run.WriteRune(half(c.at(x, 2*r) != blank, c.at(x, 2*r+1) != blank))
			}
			if k == bright {
				b.WriteString(p.bright(run.String()))
			} else {
				b.WriteString(run.String())
			}
		}
		rows[r] = strings.TrimRight(b.String(), " ")
	}
	return rows
}

func half(top, bottom bool) rune {
	switch {
	case top && bottom:
		return '█'
	case top:
		return '▀'
	case bottom:
		return '▄'
	}
	return ' '
}

// paint puts emphasis on text: bold, and colour where it is wanted.
type paint struct{ color bool }

func (p paint) bold(s string) string { return "\x1b[1m" + s + "\x1b[m" }

// bright is cyan. On black its contrast is 6:1 or more in the usual palettes, on white
// only 2:1 to 3.5:1: the shape of the hand says the same.
func (p paint) bright(s string) string {
	if !p.color {
		return s
	}
	return "\x1b[36m" + s + "\x1b[m"
}
