package page

import (
	"encoding/xml"
	"fmt"
	"html/template"
	"strconv"
	"strings"
)

// A chart is this large, in units that are as large as a pixel on a narrow phone.
const (
	chartWidth, chartHeight = 360, 226

	leftEdge, rightEdge = 42, 352 // of what is plotted
	topEdge, bottomEdge = 26, 192
)

// A chart is an SVG picture of values over time. Everything in it is drawn in the
// colour of the text around it, and told apart by its shape, so that it can be read
// in black and white, on paper and on a dark screen. The page may add colour.
type chart struct {
	strings.Builder
	first, last float64 // on the horizontal axis
	most        float64 // on the vertical axis, which begins at 0
	legendEnd   float64 // where it goes on
}

// x and y say where a value is.
func (c *chart) x(v float64) float64 {
	return leftEdge + (v-c.first)/(c.last-c.first)*(rightEdge-leftEdge)
}

func (c *chart) y(v float64) float64 { return bottomEdge - v/c.most*(bottomEdge-topEdge) }

// num writes a coordinate, to a tenth.
func num(v float64) string {
	return strings.TrimSuffix(strconv.FormatFloat(v, 'f', 1, 64), ".0")
}

func (c *chart) element(format string, args ...any) {
	for i, a := range args {
		switch a := a.(type) {
		case float64:
			args[i] = num(a)
		case string:
			var b strings.Builder
			xml.EscapeText(&b, []byte(a))
			args[i] = b.String()
		}
	}
	fmt.Fprintf(c, format+"\n", args...)
}

// text writes text at a place: anchor is start, middle or end.
func (c *chart) text(x, y float64, anchor, text string) {
	c.element(`<text x="%s" y="%s" text-anchor="%s">%s</text>`, x, y, anchor, text)
}

// height draws a line across the chart at a value, with a name beside it.
func (c *chart) height(v float64, name string) {
	c.element(`<path d="M%s %sH%s" stroke-opacity=".25"/>`, float64(leftEdge), c.y(v), float64(rightEdge))
	c.text(leftEdge-5, c.y(v)+4, "end", name)
}

// limit draws a broken line across the chart, over what is there.
func (c *chart) limit(v float64) {
	c.element(`<path d="M%s %sH%s" stroke-dasharray="6 3"/>`, float64(leftEdge), c.y(v), float64(rightEdge))
}

// under writes text under the horizontal axis, within the picture.
func (c *chart) under(v float64, text string) {
	x, anchor := c.x(v), "middle"
	if x+20 > chartWidth {
		x, anchor = chartWidth, "end"
	}
	c.text(x, bottomEdge+15, anchor, text)
}

// bar draws a bar from 0 to v. One that is too low is open.
func (c *chart) bar(at, width, v float64, low bool) {
	class, fill := "enough", "currentColor"
	if low {
		class, fill = "low", "none"
	}
	left, right := c.x(at-width/2), c.x(at+width/2)
	c.element(`<rect class="%s" x="%s" y="%s" width="%s" height="%s" fill="%s" fill-opacity=".55"/>`, class, left, c.y(v), right-left, c.y(0)-c.y(v), fill)
}

// interval draws an upright line with an end at each of two values.
func (c *chart) interval(at, low, high float64) {
	x := c.x(at)
	c.element(`<path d="M%s %sh6M%s %sV%sM%s %sh6"/>`, x-3, c.y(high), x, c.y(high), c.y(low), x-3, c.y(low))
}

// line joins points.
func (c *chart) line(points ...[2]float64) {
	d := ""
	for i, p := range points {
		d += string("ML"[min(i, 1)]) + num(c.x(p[0])) + " " + num(c.y(p[1]))
	}
	c.element(`<path d="%s" stroke-width="1.5"/>`, d)
}

// A shape marks a point.
type shape struct{ class, path, fill string }

var (
	ring    = shape{"ring", "m-3.5 0a3.5 3.5 0 1 0 7 0a3.5 3.5 0 1 0-7 0z", "none"}
	diamond = shape{"diamond", "m-4 0l4-4l4 4l-4 4z", "currentColor"}
	cross   = shape{"cross", "m-4-4l8 8m0-8l-8 8", "none"}
	stroke  = shape{"trend", "m-5 0h10", "none"}
	dashes  = shape{"limit", "m-5 0h4m2 0h4", "none"}
)

// mark draws a shape at a value.
func (c *chart) mark(s shape, at, v float64) { c.shape(s, c.x(at), c.y(v)) }

func (c *chart) shape(s shape, x, y float64) {
	c.element(`<path class="%s" d="M%s %s%s" fill="%s"/>`, s.class, x, y, s.path, s.fill)
}

// legend says above the chart what a shape stands for, in a few words.
func (c *chart) legend(s shape, text string) {
	if c.legendEnd == 0 {
		c.legendEnd = leftEdge + 5
	}
	c.shape(s, c.legendEnd, 9)
	c.text(c.legendEnd+8, 13, "start", text)
	c.legendEnd += 22 + 6.2*float64(len(text))
}

// svg returns the picture, whose name and text are elements of the page with the
// given ids.
func (c *chart) svg(name, text string) template.HTML {
	return template.HTML(fmt.Sprintf(`<svg xmlns="http://www.w3.org/2000/svg" role="img" aria-labelledby="%s" aria-describedby="%s" viewBox="0 0 %d %d" font-family="sans-serif" font-size="12" fill="none" stroke="currentColor">
<path d="M%d %dV%dH%d"/>
%s</svg>`, name, text, chartWidth, chartHeight, leftEdge, topEdge, bottomEdge, rightEdge, c.String()))
}
