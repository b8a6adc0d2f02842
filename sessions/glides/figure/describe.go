package figure

import (
	"fmt"
	"math"
	"strings"
)

// Describe says in words what a picture shows.
func Describe(f Figure, o Options) string {
	p := f.At(o.Moment, o.share())
	side := "right"
	if o.Left {
		side = "left"
	}
	parts := []string{arm(p, side), elbow(p), "the palm faces " + facing(skeletonOf(p).palmFaces()), wrist(p)}
	if text := hand(p); text != "" {
		parts = append(parts, text)
	}
	switch {
	case p.Head > 4:
		parts = append(parts, "the head is tipped away from the arm")
	case p.Head < -4:
		parts = append(parts, "the head is tipped toward the arm")
	default:
		parts = append(parts, "the head is upright")
	}
	text := fmt.Sprintf("Seen from the %s: %s.", f.View, strings.Join(parts, ", "))
	if o.Title != "" {
		text = o.Title + ". " + text
	}
	return text
}

func arm(p Pose, side string) string {
	switch {
	case p.ShoulderOut > 20:
		return "the " + side + " arm is out to the side"
	case p.ShoulderForward > 20:
		return "the " + side + " arm reaches forward"
	}
	return "the " + side + " upper arm hangs at the side"
}

func elbow(p Pose) string {
	switch {
	case p.Elbow <= 20:
		return "the elbow is almost straight"
	case p.Elbow < 60:
		return "the elbow is a little bent"
	}
	return "the elbow is bent"
}

func wrist(p Pose) string {
	switch {
	case p.Wrist > 10:
		return "the wrist is bent back"
	case p.Wrist < -10:
		return "the wrist is bent toward the palm"
	}
	return "the wrist is in line"
}

// hand says what is unusual about the fingers.
func hand(p Pose) string {
	switch {
	case p.Spread > 8:
		return "the fingers are spread"
	case p.Curl > 45:
		return "the fingers are curled"
	}
	return ""
}

// facing names the direction that is nearest to v.
func facing(v vec) string {
	names := []struct {
		size               float64
		positive, negative string
	}{{v.x, "outward", "the body"}, {v.y, "up", "down"}, {v.z, "forward", "behind"}}
	best := names[0]
	for _, n := range names[1:] {
		if math.Abs(n.size) > math.Abs(best.size) {
			best = n
		}
	}
	if best.size < 0 {
		return best.negative
	}
	return best.positive
}
