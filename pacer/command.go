package pacer

import "time"

// Command is what a person says to a running session.
type Command uint8

const (
	nothing    Command = iota
	Toggle             // pauses at once; in a pause it goes on
	Enough             // ends the set that is running, which counts as done: on to the shake; outside a set it means nothing
	Quit               // ends the session
	Stop               // stops for symptoms; after a stop it says, as Toggle does, that they have settled
	NoSymptoms         // says after a stop that it was only a pause

	// SayPain and SayBreath say after a stop what is felt. While the session runs
	// they only stop it, so that a slip of the hand ends nothing.
	SayPain
	SayBreath
	// SayWarning reports a warning sign of the neck glide. During a neck glide, its
	// set-up or its shake it ends the session, and so it does after a stop in a
	// session with a neck glide. Elsewhere it stops as Stop does.
	SayWarning

	Yes // answers whether it is back to where it was
	No
)

// For how long keys are ignored, so that a key pressed twice does no harm: at the
// start of a session, after a stop, and when it goes on after symptoms. A command
// that can only end a session always counts.
const (
	DeafAtStart     = 2 * time.Second
	DeafAfterStop   = 5 * time.Second
	DeafWhenGoingOn = 3 * time.Second
)

// A key that comes again within keyRepeat is being held down and counts once. While
// the session runs that holds for mostRepeat only: somebody who goes on pressing
// wants it to stop.
const (
	keyRepeat  = 600 * time.Millisecond
	mostRepeat = time.Second
)

// ends reports whether the command can only end a session.
func (c Command) ends() bool {
	return c == Quit || c == SayPain || c == SayBreath || c == SayWarning
}
