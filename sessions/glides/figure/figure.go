// Package figure draws the movement of a glide: a person as a line drawing, in SVG, at
// any moment between the two ends of the movement.
//
// A [Pose] is the angles of the joints, in degrees, each from the zero of the neutral
// zero method: standing upright, the arms hanging, the palms toward the thighs. From
// them the arm is set up in space, bone by bone, and then seen from one side. So every
// picture follows from the angles, and a reader of the angles can check it.
//
// The arm that is treated is the right one; for the left the picture is mirrored.
package figure

// View is from where a person is seen.
type View string

const (
	Front View = "front" // they face the reader
	Side  View = "side"  // from the side of the arm that is treated; forward is to the right for the right arm
	Above View = "above" // as from the front, but looking down; only for the close-up

	aboveSide View = "above, forward to the right" // beside a view from the side
)

// Views and CloseUps are the words for Figure.View and Figure.CloseUp.
var (
	Views    = []string{string(Front), string(Side)}
	CloseUps = []string{string(Front), string(Side), string(Above)}
)

// Figure is how a glide is drawn.
type Figure struct {
	View    View `yaml:"view" json:"view"`
	CloseUp View `yaml:"close_up" json:"close_up,omitempty"` // from where the hand is shown once more, enlarged; "" for not at all
	Sitting bool `yaml:"sitting" json:"sitting,omitempty"`   // on a seat, which only the side view shows
	Start   Pose `yaml:"start" json:"start"`                 // the start position
	End     Pose `yaml:"end" json:"end"`                     // where the movement out ends
	// Back is where the movement back ends if it goes on beyond the start position; nil
	// if it ends there.
	Back *Pose `yaml:"back" json:"back,omitempty"`
}

// Pose is the angles of the joints in degrees.
type Pose struct {
	Head            float64 `yaml:"head" json:"head"`                         // tipped to the side, away from the arm
	Trunk           float64 `yaml:"trunk" json:"trunk"`                       // leaned forward from the hips
	ShoulderForward float64 `yaml:"shoulder_forward" json:"shoulder_forward"` // the upper arm lifted forward
	ShoulderOut     float64 `yaml:"shoulder_out" json:"shoulder_out"`         // then lifted out to the side
	ShoulderTurn    float64 `yaml:"shoulder_turn" json:"shoulder_turn"`       // turned about its length, outward
	Elbow           float64 `yaml:"elbow" json:"elbow"`                       // bent
	Forearm         float64 `yaml:"forearm" json:"forearm"`                   // turned palm up (supination)
	Wrist           float64 `yaml:"wrist" json:"wrist"`                       // bent back (extension)
	Curl            float64 `yaml:"curl" json:"curl"`                         // each finger bent, at the knuckle and at the joint after it
	Spread          float64 `yaml:"spread" json:"spread"`                     // fingers and thumb spread
}

// Joint is one angle of a pose, with the range that a healthy joint has.
type Joint struct {
	Key         string // as files name it
	Least, Most float64
	Angle       func(*Pose) *float64
}

// Joints are all angles. The ranges are the normal ones of the American Academy of
// Orthopaedic Surgeons (Joint Motion: Method of Measuring and Recording, 1965; from
// memory). That book has none for spread fingers: 25° from the middle finger is common
// practice.
var Joints = []Joint{
	{"head", -45, 45, func(p *Pose) *float64 { return &p.Head }},
	{"trunk", -30, 80, func(p *Pose) *float64 { return &p.Trunk }},
	{"shoulder_forward", -60, 180, func(p *Pose) *float64 { return &p.ShoulderForward }},
	{"shoulder_out", 0, 180, func(p *Pose) *float64 { return &p.ShoulderOut }},
	{"shoulder_turn", -70, 90, func(p *Pose) *float64 { return &p.ShoulderTurn }},
	{"elbow", 0, 150, func(p *Pose) *float64 { return &p.Elbow }},
	{"forearm", -80, 80, func(p *Pose) *float64 { return &p.Forearm }},
	{"wrist", -80, 70, func(p *Pose) *float64 { return &p.Wrist }},
	{"curl", 0, 90, func(p *Pose) *float64 { return &p.Curl }},
	{"spread", 0, 25, func(p *Pose) *float64 { return &p.Spread }},
}

// At returns the pose at a moment of the movement out: 0 at its beginning, 1 at its end.
// share is how much of the whole way is done, above 0 up to 1: each joint then goes only
// that share of its way from the start position.
func (f Figure) At(moment, share float64) Pose {
	moment = min(max(moment, 0), 1)
	to, way := f.End, moment
	if f.Back != nil { // the first half of the movement out leads to the start position
		if way = 2*moment - 1; way < 0 {
			to, way = *f.Back, -way
		}
	}
	p := f.Start
	for _, j := range Joints {
		*j.Angle(&p) += (*j.Angle(&to) - *j.Angle(&f.Start)) * way * share
	}
	return p
}
