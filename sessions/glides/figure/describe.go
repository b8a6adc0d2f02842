package figure

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"strings"
)

// Describe says in words what a picture shows.
func Describe(f Figure, o Options) string {
	p := f.At(o.Moment, o.share())
	side := "right"
	if o.Left {
		side = "left"
	}
	parts := []string{arm(p, side), elbow(p), "the palm faces " + facing(skeletonOf(p)), wrist(p)}
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

// facing names the direction in which the palm faces, or two if it is between them.
func facing(s skeleton) string {
	v, arm := s.palmFaces(), s.shoulder.add(s.wrist.times(-1))
	if v.dot(arm) > .8*math.Sqrt(arm.dot(arm)) {
		return "toward the shoulder"
	}
	back := "behind you"
	if s.wrist.z > 12 { // the hand is in front of the body
		back = "toward you"
	}
	type share struct {
		size  float64
		words string
	}
	name := func(size float64, positive, negative string) share {
		if size < 0 {
			return share{-size, negative}
		}
		return share{size, positive}
	}
	shares := []share{name(v.x, "away from you", "toward you"), name(v.y, "up", "down"), name(v.z, "forward", back)}
	slices.SortStableFunc(shares, func(a, b share) int { return cmp.Compare(b.size, a.size) })
	if shares[1].size > .75*shares[0].size && shares[1].words != shares[0].words {
		return shares[0].words + " and " + shares[1].words
	}
	return shares[0].words
}
