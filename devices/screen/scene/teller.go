package scene

import (
	"fmt"
	"math"
	"slices"
	"strings"
	"time"

	"glidepace/pacer"
	"glidepace/sessions"
)

// Teller tells a session in plain lines: one at each step, and one when the session
// begins, stands still, goes on or ends. A line says in few words what to do, so that
// a screen reader is done with it before the next one comes. Side and set are named
// where they change: in the set-up and in the first inhale of a set. How to sit and
// the start position stand below their line, indented, a sentence to a line, or in a
// few words if they are known.
type Teller struct {
	steering Steering
	begun    bool
	halted   bool         // until the next timeline
	answer   pacer.Answer // of the last stop
	stopped  time.Time    // when the last stop was
}

// NewTeller returns a Teller for a session that has not begun.
func NewTeller(s Steering) *Teller { return &Teller{steering: s} }

// Line returns the line for an event, "" where there is none.
func (l *Teller) Line(e pacer.Event) string {
	switch e.Kind {
	case pacer.Began:
		switch {
		case !l.begun:
			l.begun = true
			return fmt.Sprintf("%s, %s", e.Timeline.Title, pacer.Clock(e.Timeline.Duration))
		case l.halted:
			l.halted = false
			if l.answer == pacer.Settled {
				return gentlerLine(e.Timeline)
			}
			return "going on"
		}
	case pacer.Stepped:
		return l.stepLine(e.Timeline, e.Step)
	case pacer.Paused:
		l.halted, l.answer = true, pacer.NoStop
		return "paused, " + hangLoose + ", " + breatheFreely + "; " + l.steering.goesOn
	case pacer.EnoughSaid:
		l.halted = false
		return "enough for this set"
	case pacer.Stopped:
		l.halted, l.stopped = true, e.At
		text := "stopped, " + hangLoose
		if e.Answer != pacer.NoStop {
			return text // the end is next
		}
		text += "; " + l.steering.afterStop
		if e.Timeline.Neck() {
			text += "; " + l.steering.warning
		}
		return text
	case pacer.StillThere:
		return pacer.Clock(e.At.Sub(l.stopped).Seconds()) + " since you stopped; " + isItBack + " " + l.steering.answers + "; " + noAnswerEnds
	case pacer.Answered:
		l.answer = e.Answer
	case pacer.Ended:
		switch e.Outcome {
		case sessions.Completed:
			return "done, " + hangLoose
		case sessions.Symptoms:
			return "ended for symptoms. " + ClosingAdvice(e.Outcome, l.answer)
		}
		return "ended early, " + hangLoose
	}
	return ""
}

// gentlerLine says how t takes a session up again after symptoms.
func gentlerLine(t *pacer.Timeline) string {
	text := "going on " + Gentler(t.Easing())
	if first := t.Steps[0]; first.Exercise > 0 && first.Move != pacer.Shake {
		i := slices.IndexFunc(t.Steps, func(s pacer.Step) bool { return s.Rep > 0 })
		text += fmt.Sprintf(", from repetition %d", t.Steps[i].Rep)
	}
	return text
}

// below starts a line without a time.
const below = "\n        "

// stepLine says what to do in step i, then where in the session that is.
func (l *Teller) stepLine(t *pacer.Timeline, i int) string {
	s := t.Steps[i]
	parts := []string{action(t, i)}
	add := func(format string, args ...any) { parts = append(parts, fmt.Sprintf(format, args...)) }
	var under []string
	switch {
	case s.Move == pacer.Posture:
		add("%s, %s, %s", l.steering.handsOff, wait(s), breatheFreely)
		under = PostureTexts(t)
	case s.Exercise == 0 && s.Breath == pacer.Inhale:
		if i == 0 || t.Steps[i-1].Move == pacer.Posture {
			add("%s", inTheLap)
		}
		add("breath %d of %d", s.BreathNumber+1, t.Session().LeadIn)
	case s.Move == pacer.SetUp:
		e, back := t.ExerciseOf(s), ResumesStart(t, i)
		if !back {
			add("%s", lower(e.Glide.Title))
		}
		if known := back || t.Session().Posture == sessions.PostureShort; known && !e.Own {
			add("%s", lower(e.Glide.Cues.Start))
		} else {
			under = Sentences(e.Glide.Start)
		}
		if e.Own { // its cues are no more than "out" and "back"
			under = append(under, "Out: "+lower(e.Glide.Out), "Back: "+lower(e.Glide.Back))
		}
		if e.Glide.Neck && !back {
			under = append(under, l.steering.warning)
		}
		add("%s, %s", wait(s), breatheFreely)
	case s.Move == pacer.Shake:
		add("%s for %s; next %s", breatheFreely, wait(s), upcoming(t, i))
	case s.Move == pacer.Rest && s.InSet():
		add("%s", setOf(t, s))
		if first := t.Steps[i+1].Rep; first > 1 {
			add("from repetition %d of %d", first, t.RepsInSet(s))
		} else {
			add("%s", sessions.Count(t.RepsInSet(s), "repetition"))
		}
		if r := t.ExerciseOf(s).Range.HowFar(); r != "" {
			add("%s", r)
		}
	case s.Move == pacer.Glide:
		add("%d of %d", s.Rep, t.RepsInSet(s))
		if t.Easing().Eased {
			add("smaller")
		} else if r := reminder(t, s); r != "" {
			add("%s", r)
		}
	}
	return strings.Join(append([]string{strings.Join(parts, ", ")}, under...), below)
}

// wait says the length of a step in whole seconds.
func wait(s pacer.Step) string { return sessions.Count(int(math.Round(s.Duration)), "second") }
