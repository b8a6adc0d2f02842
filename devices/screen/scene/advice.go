package scene

import (
	"glidepace/pacer"
	"glidepace/sessions"
)

// The words of a stop for symptoms and of going on after it. Nobody knows what the
// symptoms were unless the patient says it.
const (
	AMoment      = "a moment…" // while some keys are not heard yet
	isItBack     = "is it back to where it was?"
	noAnswerEnds = "without an answer the session ends"
	startAgain   = "take the start position again"
	notAsFar     = "not as far"

	BreathSymptoms = "light-headed, short of breath or tingling around the mouth"
)

// Steering is how a person steers a session, in words.
type Steering struct {
	handsOff  string // what is to be left alone while the person takes their place
	afterStop string // how to say what a stop was for
	answers   string // how to say whether it is back to where it was
	goesOn    string // how a pause ends
	warning   string // how to report a warning sign of the neck glide
}

// Keyboard is the steering by keys.
var Keyboard = Steering{
	handsOff:  "hands off the keyboard",
	afterStop: "when it has settled press Enter; u if it was only a pause; p for pain; b if " + BreathSymptoms,
	answers:   "y: yes, go on gentler; n: no, end for today",
	goesOn:    "space goes on",
	warning:   "d if " + warningSigns,
}

// Touch is the steering by buttons on a screen that is touched.
var Touch = Steering{
	handsOff:  "put the phone where you see it",
	afterStop: "say below what it was, or when it has settled",
	answers:   "yes or no",
	goesOn:    "press Go on",
	warning:   "press the button if " + warningSigns,
}

const warningSigns = "dizzy, unsteady or faint, if sight or speech or swallowing changes, or the face goes numb"

// Gentler says how a session goes on after symptoms.
func Gentler(e pacer.Easing) string {
	switch {
	case e.Slower:
		return "gentler: slower, smaller"
	case e.Fewer:
		return "gentler: smaller, and fewer"
	}
	return "gentler: smaller"
}

// ClosingAdvice says what to do now that a session is over, in one to three
// sentences. The answer matters only after symptoms.
func ClosingAdvice(o sessions.Outcome, a pacer.Answer) string {
	if o != sessions.Symptoms {
		return upper(hangLoose) + "."
	}
	switch a {
	case pacer.Pain:
		return "Stop for today. Tell your clinician."
	case pacer.Breathing:
		return "Sit down and breathe as you like, softly. Chest pain, or breathlessness that stays: call emergency services. Tell your clinician if it does not pass or comes again."
	case pacer.WarningSign:
		return "Sit down. Trouble with sight, speech or swallowing, or a faint: call emergency services now. No neck glide until your clinician has cleared it."
	case pacer.Still, pacer.NoAnswer:
		return "It should have settled by now. Stop for today and tell your clinician."
	}
	return upper(hangLoose) + ". That is enough for today: tell your clinician if it does not settle."
}
