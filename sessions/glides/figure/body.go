package figure

// The outlines of head and trunk, in centimetres, as two coordinates: toward the side of
// the treated arm (from the front) or forward (from the side), and up. Those of the head
// begin at the neck, those of the trunk in the middle between the shoulders.
type flat [][2]float64

var (
	headFront = flat{{0, 26}, {5.5, 24.5}, {7.6, 19}, {7.2, 12.5}, {5, 6.5}, {0, 3.6}, {-5, 6.5}, {-7.2, 12.5}, {-7.6, 19}, {-5.5, 24.5}}
	headSide  = flat{{-1, 26}, {5, 25}, {8.6, 21.5}, {9.3, 18}, {9, 16.3}, {11.6, 12.6}, {9.3, 11.4}, {9.9, 9.2}, {8.9, 8}, {9.3, 5}, {6.5, 3.8}, {1.5, 5.5}, {-3.5, 7}, {-8, 10}, {-9.6, 17}, {-6.8, 23.5}}
	hairFront = flat{{-7.5, 17}, {-6.4, 21.5}, {-2, 23}, {2, 23}, {6.4, 21.5}, {7.5, 17}}
	hairSide  = flat{{8.6, 21.6}, {3, 21}, {1.5, 17.5}, {-1.5, 16}, {-2.5, 10.5}, {-6, 9}}
	neckFront = flat{{-4.4, 14}, {-4.3, 4}, {-6.5, 1}, {6.5, 1}, {4.3, 4}, {4.4, 14}}
	neckSide  = flat{{3.5, 14}, {3, 5}, {4.6, .5}, {-6, 0}, {-5.6, 5}, {-6.5, 17}}

	trunkFront = flat{{5, 1.5}, {14, -.5}, {19.5, -3}, {20, -9}, {16, -16}, {14.2, -28}, {13.8, -36}, {16.8, -47}, {17.6, -60}, {17.4, -95}, {1.5, -95}, {0, -62},
		{-1.5, -95}, {-17.4, -95}, {-17.6, -60}, {-16.8, -47}, {-13.8, -36}, {-14.2, -28}, {-16, -16}, {-20, -9}, {-19.5, -3}, {-14, -.5}, {-5, 1.5}}
	trunkSide = flat{{-5, 2}, {-9.5, -6}, {-11, -16}, {-8.5, -30}, {-8.5, -36}, {-12, -46}, {-11, -56}, {-8, -66}, {-8, -95}, {7.5, -95}, {9, -60}, {9, -48}, {10, -38}, {9.5, -28}, {11.5, -16}, {9.5, -6}, {5, 1}}
	seat      = flat{{-15, -57.5}, {26, -57.5}, {26, -61}, {-15, -61}}
	trunkSeat = flat{{-5, 2}, {-9.5, -6}, {-11, -16}, {-8.5, -30}, {-9, -38}, {-13.5, -48}, {-9, -56}, {8, -57.5}, {37, -56}, {35, -66}, {35, -100}, {46, -100}, {47, -60}, {49, -50}, {44, -44}, {22, -42.5}, {11, -40}, {9.5, -28}, {11.5, -16}, {9.5, -6}, {5, 1}}
)

// put returns where an outline is seen that belongs to a part of the body.
func (c *canvas) put(outline flat, f frame, origin vec) []point {
	var list []point
	for _, p := range outline {
		v := vec{x: p[0], y: p[1]}
		if c.view == Side {
			v = vec{z: p[0], y: p[1]}
		}
		list = append(list, c.at(origin.add(f.of(v))))
	}
	return list
}

func (c *canvas) drawBody(s skeleton, sitting bool) {
	hip := vec{y: hipY}
	origin := hip.add(s.trunk.of(vec{y: -hipY}))
	side := c.view == Side
	trunk, neck, hair := trunkFront, neckFront, hairFront
	if side {
		trunk, neck, hair = trunkSide, neckSide, hairSide
	}
	if side && sitting {
		trunk = trunkSeat
	}
	if !side {
		c.drawArm(otherArm(), thin)
	}
	if side && sitting {
		c.area(c.line(c.put(seat, upright, vec{})...)+"Z", thin)
	}
	outline := c.put(trunk, s.trunk, origin)
	for i, p := range c.put(trunk, upright, vec{}) {
		if trunk[i][1] < hipY+5 { // the legs do not lean
			outline[i] = p
		}
	}
	c.area(c.curve(true, outline...), thin)
	c.area(c.line(c.put(neck, s.trunk, origin)...), thin)
	c.area(c.outlineOfHead(s), thin)
	c.stroke(c.curve(false, c.put(hair, s.head, s.neck)...), thin)
	c.drawFace(s)
}

func (c *canvas) outlineOfHead(s skeleton) string {
	outline := headFront
	if c.view == Side {
		outline = headSide
	}
	return c.curve(true, c.put(outline, s.head, s.neck)...)
}

func (c *canvas) drawFace(s skeleton) {
	lines := []flat{
		{{-1.3, 12}, {0, 11.2}, {1.3, 12}}, {{0, 15.5}, {.6, 13.5}}, // nose
		{{-2.4, 8.2}, {0, 7.4}, {2.4, 8.2}}, // mouth
		{{-7.4, 17}, {-9, 16.5}, {-8.4, 12.8}, {-7, 12.8}}, {{7.4, 17}, {9, 16.5}, {8.4, 12.8}, {7, 12.8}},
	}
	eyes := flat{{-3, 16.2}, {3, 16.2}}
	if c.view == Side {
		lines = []flat{{{7.2, 8.3}, {9.4, 8.5}}, {{-1, 16}, {-2.4, 14.6}, {-1.4, 11.6}, {0, 12.6}, {.4, 15}, {-1, 16}}, {{5.2, 18.6}, {8, 18.8}}}
		eyes = flat{{6.8, 16.6}}
	}
	for _, l := range lines {
		c.stroke(c.curve(false, c.put(l, s.head, s.neck)...), thin)
	}
	for _, at := range c.put(eyes, s.head, s.neck) {
		c.stroke(c.line(at, at), 2*thin)
	}
}

// otherArm hangs beside the body, the palm toward the thigh.
func otherArm() skeleton {
	other := skeletonOf(Pose{ShoulderOut: 7, Elbow: 6, Curl: 15})
	across := func(v vec) vec { v.x = -v.x; return v }
	other.shoulder, other.elbow, other.wrist = across(other.shoulder), across(other.elbow), across(other.wrist)
	for i := range other.hand {
		other.hand[i].x = -other.hand[i].x
	}
	for f := range other.fingers {
		for i := range other.fingers[f] {
			other.fingers[f][i] = across(other.fingers[f][i])
		}
	}
	return other
}
