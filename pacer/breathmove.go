package pacer

// Breath is what the breath does in a step. Tones and buzzer follow it.
type Breath uint8

const (
	Free Breath = iota // breathe as you like
	Inhale
	Exhale
	BreathPause // the breath turns by itself: never named, shown or spoken as something to do
)

// Move is what the arm does in a step. Screen and voice follow it.
type Move uint8

const (
	Rest Move = iota // the arm is at the glide's start position, in the lead-in in the lap
	Glide
	MovePause // the brief pause at an end of the movement
	Return
	Shake   // loosen the arm and rest
	SetUp   // take the side and the start position
	Posture // take one's place, before anything is paced
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
