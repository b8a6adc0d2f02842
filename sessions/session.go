// Package sessions reads session files: what a clinician prescribed for one
// home session of nerve glides.
//
// A session file is YAML with a closed set of keys, read strictly by package
// fields, so that a slip in a prescription does not pass for another one; all
// problems are reported at once, each with the place it stands at. What the
// values add up to in time (lengths, movement speed, cautions) is package
// pacer's business; it reports against the same places, through Session.Place.
package sessions

import (
	"fmt"
	"time"

	"glidepace/sessions/fields"
	"glidepace/sessions/glides"
)

// Session is one parsed session file. Defaults are filled in.
type Session struct {
	Title   string // 1–80 characters
	Patient string // the clinic's own code, "" when not given; never a name
	Dose    *Dose  // nil when not given
	Breath  Breath
	Posture Posture
	LeadIn  int // breaths at rest before the first exercise, 0–60

	Exercises []Exercise // 1–12

	Ease     Ease
	Progress *Progress // nil when not given: every session is the whole one
	Sounds   Sounds

	places fields.Places
}

// Dose is how often and how long a session is to be done.
type Dose struct {
	PerDayMin, PerDayMax int           // sessions a day; equal unless given as a range ("as tolerated")
	Days                 int           // length of the course in days; 0 when not given
	Start                Date          // first day of the course; zero when not given
	Gap                  time.Duration // from the start of a session to that of the next, 0–12 h
}

// DefaultGap is the gap between two sessions where a file says nothing of it.
// Common practice, no source.
const DefaultGap = time.Hour

// Posture says how one's place is taken before a session.
type Posture uint8

const (
	// PostureAuto is full until a few sessions are in the diary, then short;
	// full where no diary is asked.
	PostureAuto  Posture = iota
	PostureFull          // all the posture texts, with the time to follow them
	PostureShort         // one short cue
	PostureNone          // left out
)

var postureNames = [...]string{PostureAuto: "auto", PostureFull: "full", PostureShort: "short", PostureNone: "none"}

// Postures are the words that session files use, in the order of their values.
func Postures() []string { return postureNames[:] }

// String returns the word used in session files.
func (p Posture) String() string { return postureNames[p] }

// Match says how breath and movement run side by side.
type Match uint8

const (
	// ExhaleOnGlide: inhale at rest, exhale through the glide, a brief
	// pause, inhale back. One repetition is one breath.
	ExhaleOnGlide Match = iota
	// BreathPerRep: one whole movement, out and back, on each half of a
	// breath. Two repetitions are one breath.
	BreathPerRep
)

// Breath is the prescribed breath: either Rate and Ratio, or the two phases
// Inhale and Exhale, never both.
type Breath struct {
	Match          Match
	Rate           float64       // breaths per minute; 0 when the phases are given
	Ratio          Ratio         // inhale to exhale; zero when the phases are given
	Inhale, Exhale time.Duration // 0 when the rate is given
	Pause          time.Duration // 0 ≤ Pause < 1 s; the moment of turning, not a hold
	Taper          *Taper        // nil when not given
}

// Ratio is the share of inhale to exhale, such as 1:1.5.
type Ratio struct{ Inhale, Exhale float64 }

// String writes a ratio as session files have it.
func (r Ratio) String() string { return fmt.Sprintf("%g:%g", r.Inhale, r.Exhale) }

// Taper moves the rate from From to the prescribed rate by equal ratios over
// the first Breaths paced breaths.
type Taper struct {
	From    float64 // breaths per minute, 3–30
	Breaths int     // 1–200
}

// Side is the side of the body that is worked.
type Side uint8

const (
	NoSide Side = iota // lead-in: no side yet
	Right
	Left
	Both // right, then left
)

// Exercise is one glide with its repetitions.
type Exercise struct {
	Glide glides.Glide // from the library, or the file's own: then name, texts, general cues, Neck and Caution alone
	Own   bool         // true when the file describes the glide itself
	Side  Side
	Sets  int           // 1–10
	Reps  int           // repetitions a set, 1–30
	Rest  time.Duration // loosening after each set, 0–10 min
	// SetUp is the time to take the start position before the first set of each
	// side, 0–5 min; -1 where the file gives none: then it follows from the
	// words that are to be heard.
	SetUp    time.Duration
	Range    Range  // how far the movement goes
	BothEnds bool   // the movement pauses at both ends, not only at the end of the glide
	Note     string // up to 500 characters
}

// Range is how far a movement goes, of what the patient can do with ease.
type Range uint8

const (
	RangeFull Range = iota
	RangeMost
	RangeHalf
)

var rangeNames = [...]string{RangeFull: "full", RangeMost: "most", RangeHalf: "half"}

// String returns the word used in session files.
func (r Range) String() string { return rangeNames[r] }

// MarshalText implements encoding.TextMarshaler.
func (r Range) MarshalText() ([]byte, error) { return []byte(r.String()), nil }

var sideNames = [...]string{NoSide: "", Right: "right", Left: "left", Both: "both"}

// String returns the word used in session files; NoSide is "".
func (s Side) String() string { return sideNames[s] }

// MarshalText implements encoding.TextMarshaler.
func (s Side) MarshalText() ([]byte, error) { return []byte(s.String()), nil }

// String returns the word used in session files.
func (m Match) String() string {
	if m == BreathPerRep {
		return "breath-per-rep"
	}
	return "exhale-on-glide"
}
