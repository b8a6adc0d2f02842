package figure

import (
	"cmp"
	"fmt"
	"math"
	"slices"
)

const fontSize = 13.0

// textWidth is about how wide words are.
func textWidth(words string) float64 { return .52 * fontSize * float64(len(words)) }

// text writes words; anchor is where the point is for a right arm: "start", "middle",
// "end".
func (c *canvas) text(at point, anchor, words string) {
	width := textWidth(words)
	from := at.x - map[string]float64{"start": 0, "middle": .5, "end": 1}[anchor]*width
	y := at.y - fontSize/8
	c.remember([]point{{from, y, 0}, {from + width, y, 0}})
	if c.left {
		anchor = map[string]string{"start": "end", "end": "start", "middle": "middle"}[anchor]
		at.x = size - at.x
	}
	fmt.Fprintf(c, `<text x="%.1f" y="%.1f" text-anchor="%s" font-family="Arial, Liberation Sans, Helvetica, sans-serif" font-size="%g" fill="currentColor" stroke="none">%s</text>`, at.x, at.y, anchor, fontSize, words)
}

// remember notes where something is drawn.
func (c *canvas) remember(points []point) {
	for i, p := range points {
		c.drawn = append(c.drawn, p)
		if i == 0 {
			continue
		}
		last := points[i-1]
		steps := min(int(math.Hypot(p.x-last.x, p.y-last.y)/4), 100)
		for n := range steps {
			k := float64(n) / float64(steps)
			c.drawn = append(c.drawn, point{last.x + k*(p.x-last.x), last.y + k*(p.y-last.y), 0})
		}
	}
}

// label writes lines of words near a place, where nothing is drawn yet; in the direction
// of toward if it can, and not at all if there is no room.
func (c *canvas) label(lines []string, near, toward point, in box) {
	width, height := textWidth(slices.MaxFunc(lines, byLength)), fontSize*float64(len(lines))
	best, place := math.Inf(1), box{}
	straight := math.Atan2(toward.y, toward.x)
	for turn := -180.; turn < 180; turn += 15 {
		s, k := math.Sincos(straight + turn*math.Pi/180)
		for far := 0.; far < size/2; far += 3 {
			cost := far + math.Abs(turn)/2
			// A wide label is farther to the side than above.
			b := box{near.x + k*(far+width/2) - width/2, near.y + s*(far+height/2) - height/2, width, height}
			if cost < best && c.free(b, in) {
				best, place = cost, b
			}
		}
	}
	if math.IsInf(best, 1) {
		return
	}
	for i, line := range lines {
		c.text(point{place.x + width/2, place.y + fontSize*(float64(i)+.8), 0}, "middle", line)
	}
}

// free tells whether nothing is drawn in or close to a part of the picture.
func (c *canvas) free(b, in box) bool {
	if b.x < in.x || b.y < in.y || b.x+b.width > in.x+in.width || b.y+b.height > in.y+in.height {
		return false
	}
	around := 2 + .5*c.scale*palmThick // a line of the hand is as thick
	for _, p := range c.drawn {
		if p.x > b.x-around && p.x < b.x+b.width+around && p.y > b.y-around && p.y < b.y+b.height+around {
			return false
		}
	}
	return true
}

// wrap breaks words that are long into two lines, as short as can be.
func wrap(words string) []string {
	best := []string{words}
	if len(words) <= len("palm forward") {
		return best
	}
	for i, r := range words {
		if r == ' ' && max(i, len(words)-i-1) < len(slices.MaxFunc(best, byLength)) {
			best = []string{words[:i], words[i+1:]}
		}
	}
	return best
}

func byLength(a, b string) int { return cmp.Compare(len(a), len(b)) }

// labelPalm says where the palm faces, on its side of the hand if that is seen; and where
// the thumb is if the hand is seen from above, edge on.
func (c *canvas) labelPalm(s skeleton, in box) {
	lines := wrap("palm " + facing(s))
	if c.view == Above {
		switch thumb := c.toward(s.hand.of(vec{z: 1})); {
		case thumb > .7:
			lines = append(lines, "thumb up")
		case thumb < -.7:
			lines = append(lines, "thumb down")
		}
	}
	middle := c.at(s.onHand(vec{y: -9}))
	side := c.at(s.onHand(vec{x: -5, y: -9}))
	c.label(lines, middle, point{side.x - middle.x, side.y - middle.y, 0}, in)
}

// onThigh tells whether the forearm of a sitting person rests on the thigh.
func onThigh(s skeleton) bool {
	return s.wrist.y < -36 && s.wrist.y > -46 && s.wrist.z > 10 && s.wrist.z < 45
}
