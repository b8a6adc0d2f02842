// Package glides is the library of nerve glides that session files name.
//
// A glide is only words: how to sit or stand, where the arm starts, how it moves out
// and back, what to watch for. The session file says how fast, how often, on which
// breath, on which side and where the movement pauses, so no text here does.
//
// The texts are for patients who have not seen the movement. They are gentle on
// purpose: a glide slides a nerve with little pull on it; nothing is forced, and
// nothing is held at its end.
//
// Each glide is one YAML file beside this one. To add a glide, write its file and put
// its name into the list in library.go; the tests say what is missing or not allowed.
package glides

import "glidepace/sessions/glides/figure"

// Glide describes one movement, out and back, in words that a patient can follow
// without having seen it. A session file's own glide has only Name, Start, Out, Back,
// Neck, Caution and Figure.
//
// A slider loads the nerve at one joint while another eases it; a tensioner loads it
// at two joints together; in a single glide one joint, or the fingers, move alone. The
// words are the trade's: Coppieters & Butler, Man Ther 2008;13:213–221, doi
// 10.1016/j.math.2006.12.008. At the wrist they measured for the median nerve 12.6 mm
// of sliding at 0.8 % of strain by a slider, 6.1 mm at 6.8 % by a tensioner (two
// embalmed cadavers).
type Glide struct {
	Name     string         `yaml:"name" json:"name"`           // as session files name it, such as "median-wrist"
	Title    string         `yaml:"title" json:"title"`         // short title for people
	Nerve    string         `yaml:"nerve" json:"nerve"`         // "median", "ulnar", "radial"; "" for a file's own glide
	Kind     string         `yaml:"kind" json:"kind"`           // "slider", "tensioner" or "single"; "" for a file's own glide
	Posture  Posture        `yaml:"posture" json:"posture"`     // taken up before the start position
	Start    string         `yaml:"start" json:"start"`         // the start position
	Out      string         `yaml:"out" json:"out"`             // the movement out
	Back     string         `yaml:"back" json:"back"`           // the movement back
	BothEnds bool           `yaml:"both_ends" json:"both_ends"` // pauses at both ends of the movement, not only at the end of the glide
	Raised   bool           `yaml:"raised" json:"raised"`       // the arm is away from the body during the whole set, so the shoulder tires
	Neck     bool           `yaml:"neck" json:"neck"`           // the head moves, which asks for cautions of its own
	Watch    []string       `yaml:"watch" json:"watch"`         // what to watch for while moving, one thing each
	Caution  string         `yaml:"caution" json:"caution"`     // shown before every session with it, and to the clinician who prescribes it; "" if there is none
	Review   string         `yaml:"review" json:"review"`       // "" or what must still be reviewed, and by whom
	Cues     Cues           `yaml:"cues" json:"cues"`
	Figure   *figure.Figure `yaml:"figure" json:"figure,omitempty"` // how it is drawn; nil for a file's own glide without angles
}

// Posture is how to sit or stand, from the pelvis up.
type Posture struct {
	Position       string `yaml:"position" json:"position"` // "sitting", "standing" or "sitting or standing"
	Pelvis         string `yaml:"pelvis" json:"pelvis"`
	LowBack        string `yaml:"low_back" json:"low_back"`
	Chest          string `yaml:"chest" json:"chest"`
	ShoulderBlades string `yaml:"shoulder_blades" json:"shoulder_blades"`
	Chin           string `yaml:"chin" json:"chin"`
	Spine          string `yaml:"spine" json:"spine"`
}

// Texts returns the entries from position to spine; nil in a file's own glide.
func (p Posture) Texts() []string {
	if p == (Posture{}) {
		return nil
	}
	return []string{p.Position, p.Pelvis, p.LowBack, p.Chest, p.ShoulderBlades, p.Chin, p.Spine}
}

// PostureParts names the entries of [Posture.Texts], in their order.
var PostureParts = []string{"position", "pelvis", "low back", "chest", "shoulder blades", "chin", "spine"}

// Cues are the few words shown and spoken while moving. Start and End name the two ends
// of the movement in at most four words and 24 characters; Out and Back ask for the
// movement in at most 40 characters.
type Cues struct {
	Start string `yaml:"start" json:"start"` // the start position
	End   string `yaml:"end" json:"end"`     // where the glide ends
	Out   string `yaml:"out" json:"out"`     // the movement out
	Back  string `yaml:"back" json:"back"`   // the movement back
}
