// Package sessions reads session files: what a clinician prescribed for one home
// session of nerve glides. It also has the words that all packages share: outcome,
// symptom, ratings, date.
//
// A session file is YAML with a closed set of keys. Package fields reads it strictly,
// so that a slip is never taken for another prescription, and reports all problems at
// once, each with its place. What the values add up to in time is checked by package
// pacer, which reports against the same places through Session.Place.
package sessions

import (
	"fmt"
	"time"

	"glidepace/sessions/fields"
	"glidepace/sessions/glides"
)

// Session is a parsed session file, with its defaults filled in.
type Session struct {
	Title   string // 1–80 characters
	Patient string // the clinic's own code, "" when not given; never a name
	Dose    *Dose  // nil when not given
	Breath  Breath
	Posture Posture
	LeadIn  int // breaths at rest before the first exercise, 0–60

	Exercises []Exercise // 1–12

	Ease     Ease
	Progress *Progress // nil when not given: every session is done in full
	Sounds   Sounds

	places fields.Places
}

// Dose is how often and how long a session is to be done.
type Dose struct {
	PerDayMin, PerDayMax int           // sessions a day; equal unless given as a range ("as tolerated")
	Days                 int           // length of the course; 0 when not given
	Start                Date          // first day of the course; zero when not given
	Gap                  time.Duration // from the start of one session to the next, 0–12 h
}

// DefaultGap is the gap where a file gives none. Common practice, no source.
const DefaultGap = time.Hour

// Posture says how the patient takes their place before a session.
type Posture uint8

const (
	PostureAuto  Posture = iota // full until a few sessions are in the diary, then short; full without a diary
	PostureFull                 // all the posture texts, with the time to follow them
	PostureShort                // one short cue
	PostureNone                 // left out
)

var postureNames = [...]string{PostureAuto: "auto", PostureFull: "full", PostureShort: "short", PostureNone: "none"}

// Postures returns the names that session files use, in the order of the values.
func Postures() []string { return postureNames[:] }

// String returns the name that session files use.
func (p Posture) String() string { return postureNames[p] }

// Match says how breath and movement go together.
type Match uint8

const (
	ExhaleOnGlide Match = iota // inhale at rest, exhale through the glide, a brief pause, inhale back: a breath a repetition
	BreathPerRep               // a whole movement, out and back, on each half of a breath: a breath for two repetitions
)

var matchNames = [...]string{ExhaleOnGlide: "exhale-on-glide", BreathPerRep: "breath-per-rep"}

// String returns the name that session files use.
func (m Match) String() string { return matchNames[m] }

// Breath is the prescribed breath: Rate and Ratio, or the phases Inhale and Exhale.
type Breath struct {
	Match          Match
	Rate           float64       // breaths per minute; 0 when the phases are given
	Ratio          Ratio         // inhale to exhale; zero when the phases are given
	Inhale, Exhale time.Duration // 0 when the rate is given
	Pause          time.Duration // 0 ≤ Pause < 1 s; the breath turns, it is no hold
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
	NoSide Side = iota // in the lead-in
	Right
	Left
	Both // right, then left
)

var sideNames = [...]string{NoSide: "", Right: "right", Left: "left", Both: "both"}

// String returns the name that session files use; NoSide is "".
func (s Side) String() string { return sideNames[s] }

// MarshalText implements encoding.TextMarshaler.
func (s Side) MarshalText() ([]byte, error) { return []byte(s.String()), nil }

// Exercise is one glide with its repetitions.
type Exercise struct {
	Glide glides.Glide
	Own   bool // the file describes the glide itself: it has only its name, texts, Neck, Caution and Figure, and general cues
	Side  Side
	Sets  int           // 1–10
	Reps  int           // repetitions a set, 1–30
	Rest  time.Duration // loosening after each set, 0–10 min
	// SetUp is the time to take the start position before the first set of each
	// side, 0–5 min; -1 where it follows from the words to be heard.
	SetUp    time.Duration
	Range    Range
	BothEnds bool   // the movement pauses at both ends, not only after the glide
	Note     string // up to 500 characters
}

// Seated reports whether the exercise is done sitting, and not as one likes.
func (e Exercise) Seated() bool { return e.Glide.Neck || e.Glide.Posture.Position == "sitting" }

// Range is how much of an easy movement is done.
type Range uint8

const (
	RangeFull Range = iota
	RangeMost
	RangeHalf
)

var rangeNames = [...]string{RangeFull: "full", RangeMost: "most", RangeHalf: "half"}

// String returns the name that session files use.
func (r Range) String() string { return rangeNames[r] }

// HowFar says how far a movement goes, "" for the whole way.
func (r Range) HowFar() string {
	return [...]string{RangeFull: "", RangeMost: "most of the way", RangeHalf: "half the way"}[r]
}

// Share returns how much of an easy movement that is.
func (r Range) Share() float64 { return [...]float64{RangeFull: 1, RangeMost: .75, RangeHalf: .5}[r] }

// MarshalText implements encoding.TextMarshaler.
func (r Range) MarshalText() ([]byte, error) { return []byte(r.String()), nil }
