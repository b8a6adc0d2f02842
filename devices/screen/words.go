package screen

import (
	"fmt"
	"slices"
	"strings"
	"unicode"
	"unicode/utf8"

	"glidepace/pacer"
	"glidepace/sessions"
)

const (
	breatheFreely = "breathe as you like"
	hangLoose     = "let the arm hang and loosen it"
	inTheLap      = "arms resting in your lap"
	takePlace     = "take your place"
	handsOff      = "hands off the keyboard"
)

// The words of a stop for symptoms, and of going on after it. What it was is
// not known unless the person says it.
const (
	aMoment      = "a moment…" // before the keys that are missing mean something
	isItBack     = "is it back to where it was?"
	noAnswerEnds = "without an answer the session ends"
	startAgain   = "take the start position again"
	notAsFar     = "not as far"

	breathSymptoms = "light-headed, short of breath or tingling around the mouth"
	ifWarningSign  = "d if dizzy, unsteady or faint, if sight or speech or swallowing changes, or the face goes numb"
)

// gentler says how a session goes on after symptoms.
func gentler(e pacer.Easing) string {
	switch {
	case e.Slower:
		return "gentler: slower, smaller"
	case e.Fewer:
		return "gentler: smaller, and fewer"
	}
	return "gentler: smaller"
}

// hint is what the full screen says of a key, short where the room is narrow,
// and in a few words less, brief, where it is low.
type hint struct {
	key, short, long, brief string
	inSet                   bool // means something in a set alone
	neck                    bool // means something where the neck is concerned
	later                   bool // means nothing while keys are deaf
	spared                  bool // left out where there is no room
}

var (
	stopKey   = hint{key: "Enter", short: "stop", long: "stop", later: true}
	dizzyKey  = hint{key: "d", short: "dizzy", long: "dizzy or another warning sign", neck: true}
	enoughKey = hint{key: "n", short: "enough", long: "enough for this set", inSet: true, later: true, spared: true}
	endKey    = hint{key: "q", short: "end", long: "end the session"}

	whileRunning = []hint{stopKey, dizzyKey, {key: "space", short: "pause", long: "pause", later: true}, enoughKey, endKey}

	warningKey = hint{key: "d", short: "dizzy", long: "dizzy, unsteady, faint; sight, speech, swallowing changed; a numb face",
		brief: "dizzy or another warning sign", neck: true}
	painKey   = hint{key: "p", short: "pain", long: "pain, end for today"}
	breathKey = hint{key: "b", short: "breath", long: breathSymptoms}
	leaveKey  = hint{key: "q", short: "end", long: "end"}
)

// keyHints are the hints of each status, the most important key first.
var keyHints = map[status][]hint{
	waiting: whileRunning,
	running: whileRunning,
	paused:  {stopKey, dizzyKey, {key: "space", short: "go on", long: "go on", later: true}, enoughKey, endKey},
	stopped: {
		{key: "Enter", short: "settled", long: "it has settled, go on gentler", later: true},
		{key: "u", short: "only a pause", long: "it was only a pause", later: true},
		warningKey, painKey, breathKey, leaveKey,
	},
	asked: {
		{key: "y", short: "yes, go on", long: "yes, go on gentler"},
		{key: "n", short: "no, end", long: "no, end for today"},
		warningKey, painKey, breathKey, leaveKey,
	},
}

// Parting returns the last words of a session: what to do now that it is over,
// in one to three sentences. The answer counts with Symptoms alone.
func Parting(o sessions.Outcome, a pacer.Answer) string {
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

// reminder returns the reminder that goes with a step, "" with most.
func reminder(t *pacer.Timeline, s pacer.Step) string {
	switch t.Remark(s) {
	case pacer.ShoulderLow:
		return "shoulder low"
	case pacer.BreathFlows:
		return "let the breath flow"
	}
	return ""
}

// breathWord names the breath of a step. The turn of the breath has no name.
func breathWord(b pacer.Breath) string {
	switch b {
	case pacer.Inhale:
		return "inhale"
	case pacer.Exhale:
		return "exhale"
	}
	return ""
}

// movement says in a few words how the arm moves in a step, "" where it does
// not.
func movement(t *pacer.Timeline, s pacer.Step) string {
	switch s.Move {
	case pacer.Glide:
		return t.ExerciseOf(s).Glide.Cues.Out
	case pacer.Return:
		return t.ExerciseOf(s).Glide.Cues.Back
	}
	return ""
}

// action says what to do in step i. A breath that flows on from the step
// before is not named again: that would ask for a new one.
func action(t *pacer.Timeline, i int) string {
	s := t.Steps[i]
	switch s.Move {
	case pacer.Posture:
		return takePlace
	case pacer.Shake:
		return hangLoose
	case pacer.SetUp:
		if comesBack(t, i) {
			return startAgain + ", " + side(s)
		}
		return side(s) + ", get ready"
	case pacer.MovePause:
		return endReached(t, i)
	}
	var parts []string
	if w := breathWord(s.Breath); w != "" && !t.FlowsOn(i) {
		parts = append(parts, w)
	}
	if m := movement(t, s); m != "" {
		parts = append(parts, lower(m))
	}
	if len(parts) == 0 {
		return "arms resting" // while the breath turns in the lead-in
	}
	return strings.Join(parts, ", ")
}

// next returns the index of the step after i that has something to do: turns
// need no notice. It is len(t.Steps) at the end.
func next(t *pacer.Timeline, i int) int {
	for i++; i < len(t.Steps); i++ {
		if s := t.Steps[i]; s.Move != pacer.MovePause && s.Breath != pacer.BreathPause {
			break
		}
	}
	return i
}

// upcoming says what comes after step i.
func upcoming(t *pacer.Timeline, i int) string {
	n := next(t, i)
	switch {
	case n >= len(t.Steps):
		return "the end"
	case t.Steps[i].Move == pacer.Shake && t.Steps[n].InSet():
		return setOf(t, t.Steps[n])
	case t.Steps[n].Move == pacer.SetUp:
		return side(t.Steps[n]) + ", " + lower(t.ExerciseOf(t.Steps[n]).Glide.Title)
	}
	return action(t, n)
}

// side names the side of a step for people.
func side(s pacer.Step) string {
	if s.Side == sessions.NoSide {
		return ""
	}
	return s.Side.String() + " side"
}

// setOf names the set of a step, with its side.
func setOf(t *pacer.Timeline, s pacer.Step) string {
	return fmt.Sprintf("%s, set %d of %d", side(s), s.Set, t.SetsOnSide(s))
}

// lower puts the first letter of a sentence in lower case, so that the words
// can follow others. An abbreviation stays as it is.
func lower(s string) string {
	first, n := utf8.DecodeRuneInString(s)
	if second, _ := utf8.DecodeRuneInString(s[n:]); unicode.IsUpper(second) {
		return s
	}
	return string(unicode.ToLower(first)) + s[n:]
}

// upper puts the first letter in upper case.
func upper(s string) string {
	first, n := utf8.DecodeRuneInString(s)
	if n == 0 {
		return s
	}
	return string(unicode.ToUpper(first)) + s[n:]
}

// count writes a number with its unit.
func count(n int, unit string) string {
	if n != 1 {
		unit += "s"
	}
	return fmt.Sprintf("%d %s", n, unit)
}

// endReached names the end of the movement at which it turns.
func endReached(t *pacer.Timeline, i int) string {
	e := t.ExerciseOf(t.Steps[i])
	if i > 0 && t.Steps[i-1].Move == pacer.Return {
		return lower(e.Glide.Cues.Start)
	}
	return farEnd(e)
}

// farEnd names the end of the movement out: how far it goes, where that is not
// the whole way.
func farEnd(e *sessions.Exercise) string {
	if r := RangeWords[e.Range]; r != "" {
		return r
	}
	return lower(e.Glide.Cues.End)
}

// RangeWords say how far a movement goes, where that is not the whole way.
var RangeWords = map[sessions.Range]string{sessions.RangeHalf: "half the way", sessions.RangeMost: "most of the way"}

// comesBack reports whether step i takes the start position again, in which one
// was before.
func comesBack(t *pacer.Timeline, i int) bool {
	return i == 0 && t.Easing().Eased && t.Steps[i].Move == pacer.SetUp
}

// postureTexts says how to take one's place: all of it, or a short cue.
func postureTexts(t *pacer.Timeline) []string {
	if whole := t.PostureTexts(); whole != nil {
		return sentences(upper(whole[0]) + ". " + strings.Join(whole[1:], " "))
	}
	seated := func(e sessions.Exercise) bool { return e.Glide.Neck || e.Glide.Posture.Position == "sitting" }
	if slices.ContainsFunc(t.Session().Exercises, seated) {
		return []string{"Sit tall, shoulders low."}
	}
	return []string{"Sit or stand tall, shoulders low."}
}

// sentences splits a text.
func sentences(text string) []string {
	list := strings.SplitAfter(strings.TrimSpace(text), ". ")
	for i, s := range list {
		list[i] = strings.TrimSpace(s)
	}
	return list
}
