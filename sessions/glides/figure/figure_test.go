package figure

import (
	"fmt"
	"math"
	"testing"
)

// Where the wrist is and where the palm faces, worked by hand from the lengths of the
// bones: 31.62 cm of upper arm and 24.82 cm of forearm, 18 cm from the middle.
func TestSkeleton(t *testing.T) {
	const up, fore, x = 31.62, 24.82, 18
	for what, c := range map[string]struct {
		pose            Pose
		wrist, palm, at vec // at is the direction from the wrist to the fingers
	}{
		"hanging":                    {Pose{}, vec{x, -up - fore, 0}, vec{x: -1}, vec{y: -1}},
		"hanging, palm back":         {Pose{Forearm: -90}, vec{x, -up - fore, 0}, vec{z: -1}, vec{y: -1}},
		"an L, palm up":              {Pose{Elbow: 90, Forearm: 90}, vec{x, -up, fore}, vec{y: 1}, vec{z: 1}},
		"an L, wrist back":           {Pose{Elbow: 90, Forearm: 90, Wrist: 90}, vec{x, -up, fore}, vec{z: 1}, vec{y: -1}},
		"an L, palm down, hanging":   {Pose{Elbow: 90, Forearm: -90, Wrist: -90}, vec{x, -up, fore}, vec{z: -1}, vec{y: -1}},
		"out to the side":            {Pose{ShoulderOut: 90}, vec{x + up + fore, 0, 0}, vec{y: -1}, vec{x: 1}},
		"out, palm forward":          {Pose{ShoulderOut: 90, Forearm: 90}, vec{x + up + fore, 0, 0}, vec{z: 1}, vec{x: 1}},
		"out, palm up":               {Pose{ShoulderOut: 90, ShoulderTurn: 90, Forearm: 90}, vec{x + up + fore, 0, 0}, vec{y: 1}, vec{x: 1}},
		"out, palm forward, back":    {Pose{ShoulderOut: 90, Forearm: 90, Wrist: 90}, vec{x + up + fore, 0, 0}, vec{x: 1}, vec{z: -1}},
		"out, palm up, forearm up":   {Pose{ShoulderOut: 90, ShoulderTurn: 90, Elbow: 90, Forearm: 90}, vec{x + up, fore, 0}, vec{x: -1}, vec{y: 1}},
		"forward":                    {Pose{ShoulderForward: 90}, vec{x, 0, up + fore}, vec{x: -1}, vec{z: 1}},
		"forward 30, elbow 60":       {Pose{ShoulderForward: 30, Elbow: 60}, vec{x, -up * math.Sqrt(3) / 2, up/2 + fore}, vec{x: -1}, vec{z: 1}},
		"bent forward from the hips": {Pose{Trunk: 90}, vec{x, -48.96, 48.96 - up - fore}, vec{x: -1}, vec{z: -1}},
	} {
		s := skeletonOf(c.pose)
		for part, is := range map[string][2]vec{
			"wrist": {s.wrist, c.wrist}, "palm": {s.palmFaces(), c.palm}, "hand": {s.hand.of(vec{y: -1}), c.at},
		} {
			if d := is[0].add(is[1].times(-1)); math.Abs(d.x)+math.Abs(d.y)+math.Abs(d.z) > 1e-9 {
				t.Errorf("%s: %s is %.2f, want %.2f", what, part, is[0], is[1])
			}
		}
	}
}

// The head tips away from the arm, fingers curl toward the palm, and spread from each
// other: the thumb's side of a hanging hand is in front.
func TestHeadAndFingers(t *testing.T) {
	if crown := skeletonOf(Pose{Head: 30}).head.of(vec{y: 1}); math.Abs(crown.x+.5) > 1e-9 || math.Abs(crown.y-math.Sqrt(3)/2) > 1e-9 {
		t.Errorf("a tipped head points to %.2f", crown)
	}
	bone := func(p Pose, finger int) vec {
		f := skeletonOf(p).fingers[finger]
		return f[1].add(f[0].times(-1))
	}
	if b := bone(Pose{Curl: 90}, middle); math.Abs(b.x+larger*4.4) > 1e-9 || math.Abs(b.y) > 1e-9 {
		t.Errorf("a finger bent at a right angle points to %.2f", b)
	}
	for finger, forward := range map[int]float64{0: 1, 1: 1, len(fingers) - 1: -1} {
		if wider := bone(Pose{Spread: 20}, finger).z - bone(Pose{}, finger).z; wider*forward < .5 {
			t.Errorf("finger %d moves by %.2f forward as the hand is spread", finger, wider)
		}
	}
}

// Words stand where nothing is drawn, on the side that is asked for if they fit there,
// and nowhere if there is no room.
func TestLabelFindsRoom(t *testing.T) {
	right := point{x: 1}
	for what, c := range map[string]struct {
		room        box
		least, most float64 // x of the middle of the words; none at all if they are the same
	}{
		"room on the right":        {box{0, 0, size, size}, 120, 200},
		"only room on the left":    {box{0, 0, 110, size}, 20, 80},
		"less room than the words": {box{70, 0, 40, size}, 0, 0},
	} {
		var drawing canvas
		drawing.line(point{x: 100}, point{x: 100, y: size})
		drawing.label([]string{"palm up"}, point{x: 100, y: 120}, right, c.room)
		var x float64
		_, err := fmt.Sscanf(drawing.String(), `<text x="%f"`, &x)
		if (err == nil) != (c.least < c.most) || x < c.least || x > c.most {
			t.Errorf("%s: the words are at %g: %s", what, x, drawing.String())
		}
	}
}
