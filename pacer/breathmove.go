package pacer

// Breath is what the breath does in a step. Tones and buzzer follow it.
type Breath uint8

const (
	// Free: breathe as you like.
	Free Breath = iota
	Inhale
	Exhale
	// BreathPause is the moment in which the breath turns by itself. It is
	// never named, shown or spoken as something to do.
	BreathPause
)

// Move is what the arm does in a step. Screen and voice follow it.
type Move uint8

const (
	// Rest: the arm is at the glide's start position, or in the lap during
	// the lead-in.
	Rest Move = iota
	Glide
	// MovePause is the brief pause at an end of the movement.
	MovePause
	Return
	// Shake: loosen the arm and rest.
	Shake
	// SetUp: take the side and the start position.
	SetUp
	// Posture: take one's place, before anything is paced.
	Posture
)

var (
	breathNames = [...]string{Free: "free", Inhale: "inhale", Exhale: "exhale", BreathPause: "pause"}
	moveNames   = [...]string{Rest: "rest", Glide: "glide", MovePause: "pause", Return: "return", Shake: "shake", SetUp: "set-up", Posture: "posture"}
)

// String returns the name that written timelines use.
func (b Breath) String() string { return breathNames[b] }

// String returns the name that written timelines use.
func (m Move) String() string { return moveNames[m] }

// MarshalText implements encoding.TextMarshaler.
func (b Breath) MarshalText() ([]byte, error) { return []byte(b.String()), nil }

// MarshalText implements encoding.TextMarshaler.
func (m Move) MarshalText() ([]byte, error) { return []byte(m.String()), nil }
