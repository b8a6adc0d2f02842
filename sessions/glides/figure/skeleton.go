package figure

import "math"

// vec is a point or a direction: x to the side of the treated arm, y up, z forward; in
// centimetres from the middle between the shoulders of an upright person.
type vec struct{ x, y, z float64 }

func (a vec) add(b vec) vec           { return vec{a.x + b.x, a.y + b.y, a.z + b.z} }
func (a vec) dot(b vec) float64       { return a.x*b.x + a.y*b.y + a.z*b.z }
func (a vec) times(k float64) vec     { return vec{k * a.x, k * a.y, k * a.z} }
func (a vec) to(b vec, k float64) vec { return a.times(1 - k).add(b.times(k)) }

// frame is how a part of the body is turned: where its own x, y and z point.
type frame [3]vec

var upright = frame{{x: 1}, {y: 1}, {z: 1}}

func (f frame) of(v vec) vec {
	return f[0].times(v.x).add(f[1].times(v.y)).add(f[2].times(v.z))
}

func (f frame) then(g frame) frame { return frame{f.of(g[0]), f.of(g[1]), f.of(g[2])} }

func sincos(degrees float64) (sin, cos float64) { return math.Sincos(degrees * math.Pi / 180) }

// swingForward moves what hangs down forward, and what points forward up.
func (f frame) swingForward(degrees float64) frame {
	s, c := sincos(degrees)
	return f.then(frame{{x: 1}, {y: c, z: -s}, {y: s, z: c}})
}

// swingOut moves what hangs down out to the side of the treated arm.
func (f frame) swingOut(degrees float64) frame {
	s, c := sincos(degrees)
	return f.then(frame{{x: c, y: s}, {x: -s, y: c}, {z: 1}})
}

// turnOut turns what points forward out to the side of the treated arm.
func (f frame) turnOut(degrees float64) frame {
	s, c := sincos(degrees)
	return f.then(frame{{x: c, z: -s}, {y: 1}, {x: s, z: c}})
}

// Lengths of the body in centimetres: shares of a height of 170 after Drillis and
// Contini (1966, in Winter, Biomechanics and Motor Control of Human Movement; from
// memory).
const (
	upperArm  = 0.186 * 170
	forearm   = 0.146 * 170
	shoulderX = 18.0
	hipY      = -0.288 * 170
	neckY     = 5.0
)

// The hand is drawn larger than it is, so that it can be read in a small picture.
const (
	larger = 1.3
	palm   = larger * 9
)

// finger is a finger of an open hand: where it begins and how long its bones are.
type finger struct {
	root  vec // from the wrist; x away from the palm, y toward the arm, z to the thumb
	bones [3]float64
	along float64 // degrees toward the thumb, when nothing is spread
	fan   float64 // how many times Spread it turns toward the thumb
	bend  float64 // how many times Curl it bends
}

const middle = 2 // of fingers

// The thumb comes first. Sizes before they are made larger; by eye.
var fingers = [...]finger{
	{vec{-.8, -2.9, 2.7}, [3]float64{3.4, 2.8, 2.2}, 26, 1.7, .5},
	{vec{0, -8.7, 2.7}, [3]float64{4, 2.5, 1.8}, 2, 1, 1},
	{vec{0, -9, .9}, [3]float64{4.4, 2.8, 1.9}, 0, .2, 1},
	{vec{0, -8.7, -.9}, [3]float64{4.1, 2.6, 1.8}, -1, -.5, 1},
	{vec{0, -8, -2.6}, [3]float64{3.2, 2, 1.7}, -3, -1.2, 1},
}

// skeleton is a pose in space.
type skeleton struct {
	trunk, head, hand      frame
	neck                   vec
	shoulder, elbow, wrist vec
	fingers                [len(fingers)][4]vec // from the root to the tip
}

func skeletonOf(p Pose) skeleton {
	s := skeleton{trunk: upright.swingForward(-p.Trunk)}
	hip := vec{y: hipY}
	onTrunk := func(v vec) vec { return hip.add(s.trunk.of(v.add(vec{y: -hipY}))) }
	s.head = s.trunk.swingOut(p.Head)
	s.neck = onTrunk(vec{y: neckY})
	s.shoulder = onTrunk(vec{x: shoulderX})

	arm := s.trunk.swingOut(p.ShoulderOut).swingForward(p.ShoulderForward).turnOut(p.ShoulderTurn)
	s.elbow = s.shoulder.add(arm.of(vec{y: -upperArm}))
	lower := arm.swingForward(p.Elbow).turnOut(p.Forearm)
	s.wrist = s.elbow.add(lower.of(vec{y: -forearm}))
	s.hand = lower.swingOut(p.Wrist)
	for i, f := range fingers {
		at := s.onHand(f.root)
		s.fingers[i][0] = at
		bone := s.hand.swingForward(f.along + f.fan*p.Spread)
		for b, length := range f.bones {
			bend := p.Curl * f.bend
			if b == len(f.bones)-1 {
				bend *= 2. / 3 // the last joint bends less
			}
			bone = bone.swingOut(-bend)
			at = at.add(bone.of(vec{y: -larger * length}))
			s.fingers[i][b+1] = at
		}
	}
	return s
}

// onHand returns where a point of the hand is; the wrist is at zero.
func (s skeleton) onHand(v vec) vec { return s.wrist.add(s.hand.of(v.times(larger))) }

// palmFaces returns the direction in which the palm faces.
func (s skeleton) palmFaces() vec { return s.hand.of(vec{x: -1}) }

// tip returns the tip of a finger.
func (s skeleton) tip(finger int) vec { return s.fingers[finger][len(s.fingers[finger])-1] }
