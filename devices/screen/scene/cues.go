package scene

import (
	"fmt"
	"slices"
	"strings"

	"glidepace/pacer"
	"glidepace/sessions"
)

const (
	breatheFreely = "breathe as you like"
	hangLoose     = "let the arm hang and loosen it"
	inTheLap      = "arms resting in your lap"
	takePlace     = "take your place"
)

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

// action says what to do in step i. A breath that goes on from the step before is
// not named again: that would ask for a new one.
func action(t *pacer.Timeline, i int) string {
	s := t.Steps[i]
	switch s.Move {
	case pacer.Posture:
		return takePlace
	case pacer.Shake:
		return hangLoose
	case pacer.SetUp:
		if ResumesStart(t, i) {
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

// next returns the index of the next step after i in which there is something to
// do: turns need no notice. At the end it is len(t.Steps).
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

// endReached names the end of the movement that is reached before step i.
func endReached(t *pacer.Timeline, i int) string {
	e := t.ExerciseOf(t.Steps[i])
	if i > 0 && t.Steps[i-1].Move == pacer.Return {
		return lower(e.Glide.Cues.Start)
	}
	return farEnd(e)
}

// farEnd names the end of the movement out, or says how far it goes if that is not
// the whole way.
func farEnd(e *sessions.Exercise) string {
	if r := e.Range.HowFar(); r != "" {
		return r
	}
	return lower(e.Glide.Cues.End)
}

// ResumesStart reports whether step i takes the start position again, after a stop.
func ResumesStart(t *pacer.Timeline, i int) bool {
	return i == 0 && t.Easing().Eased && t.Steps[i].Move == pacer.SetUp
}

// PostureTexts says how to sit or stand: at length, or in a short cue.
func PostureTexts(t *pacer.Timeline) []string {
	if whole := t.PostureTexts(); whole != nil {
		return Sentences(upper(whole[0]) + ". " + strings.Join(whole[1:], " "))
	}
	if slices.ContainsFunc(t.Session().Exercises, sessions.Exercise.Seated) {
		return []string{"Sit tall, shoulders low."}
	}
	return []string{"Sit or stand tall, shoulders low."}
}
