package figure

import (
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
