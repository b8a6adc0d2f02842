package screen

import (
	"fmt"
	"io"
	"math"
	"strings"
	"time"

	"glidepace/pacer"
	"glidepace/sessions"
)

// Lines writes a session as plain lines: one at each step, and one where the
// session begins, stands still, goes on or ends. A line has the paced time of
// the session first and then, in few words, what to do, so that a screen
// reader is through with it before the next one comes. Side and set stand
// where they change, in the set-up and in the first inhale of a set.
//
// Each line is one Write, made when the event comes. A writer that fails does
// not stop the session.
type Lines struct {
	w        io.Writer
	begun    bool
	stands   bool         // still, until the next timeline
	restarts int          // after symptoms
	answer   pacer.Answer // of the last stop
	stopped  time.Time    // when the last stop was
}

var _ pacer.Follower = (*Lines)(nil)

// NewLines returns Lines that write to w, which must not be buffered.
func NewLines(w io.Writer) *Lines { return &Lines{w: w} }

// Follow implements pacer.Follower.
func (l *Lines) Follow(e pacer.Event) {
	text := l.text(e)
	if text == "" {
		return
	}
	d := e.Session.Round(100 * time.Millisecond)
	io.WriteString(l.w, fmt.Sprintf("%d:%04.1f  %s\n", int(d.Minutes()), (d%time.Minute).Seconds(), text))
}

func (l *Lines) text(e pacer.Event) string {
	switch e.Kind {
	case pacer.Began:
		switch {
		case !l.begun:
			l.begun = true
			return fmt.Sprintf("%s, %s", e.Timeline.Title, pacer.Clock(e.Timeline.Duration))
		case l.stands:
			l.stands = false
			return goingOn(e.Timeline)
		}
	case pacer.Stepped:
		return stepLine(e.Timeline, e.Step)
	case pacer.Paused:
		l.stands = true
		return "paused, " + hangLoose + ", " + breatheFreely + "; space goes on"
	case pacer.EnoughSaid:
		l.stands = false
		return "enough for this set"
	case pacer.Stopped:
		l.stands, l.stopped = true, e.At
		text := "stopped, " + hangLoose
		if l.restarts < e.Timeline.Session().Ease.Tries { // else the end is next
			text += "; when it has settled press Enter; u if it was only a pause; p for pain; b if " + breathSymptoms
		}
		return text
	case pacer.StillThere:
		return pacer.Clock(e.At.Sub(l.stopped).Seconds()) + " since you stopped; " + stillThere + " y: yes, end for today; n: no, it has settled; " + noAnswerEnds
	case pacer.Answered:
		l.answer = e.Answer
		if e.Answer == pacer.Settled {
			l.restarts++
		}
	case pacer.Ended:
		switch e.Outcome {
		case sessions.Completed:
			return "done, " + hangLoose
		case sessions.Symptoms:
			return "ended for symptoms. " + Parting(e.Outcome, l.answer)
		}
		return "ended early, " + hangLoose
	}
	return ""
}

// goingOn says how t takes a session up again.
func goingOn(t *pacer.Timeline) string {
	if !t.Easing().Eased {
		return "going on"
	}
	text := "going on gentler: slower and smaller"
	if t.Steps[0].InSet() {
		text += fmt.Sprintf(", from repetition %d", t.Steps[1].Rep)
	}
	return text
}

// stepLine says step i: what to do first, then where in the session it is.
func stepLine(t *pacer.Timeline, i int) string {
	s := t.Steps[i]
	parts := []string{action(t, i)}
	add := func(format string, args ...any) { parts = append(parts, fmt.Sprintf(format, args...)) }
	switch {
	case s.Exercise == 0 && s.Breath == pacer.Inhale:
		if i == 0 {
			add("%s", inTheLap)
		}
		add("breath %d of %d", s.BreathNumber+1, t.Session().LeadIn)
	case s.Move == pacer.SetUp:
		g := t.ExerciseOf(s).Glide
		add("%s, %s, %s: %s", lower(g.Title), wait(s), breatheFreely, g.Start)
	case s.Move == pacer.Shake:
		add("%s for %s; next %s", breatheFreely, wait(s), upcoming(t, i))
	case s.Move == pacer.Rest && s.InSet():
		add("%s", setOf(t, s))
		if first := t.Steps[i+1].Rep; first > 1 {
			add("from repetition %d of %d", first, t.RepsInSet(s))
		} else {
			add("%s", count(t.RepsInSet(s), "repetition"))
		}
		if t.Easing().Eased { // the arm hung loose in between
			add("%s", lower(t.ExerciseOf(s).Glide.Cues.Start))
		}
	case s.Move == pacer.Glide:
		add("%d of %d", s.Rep, t.RepsInSet(s))
		if t.Easing().Eased {
			add("smaller")
		} else if r := reminder(t, s); r != "" {
			add("%s", r)
		}
	}
	return strings.Join(parts, ", ")
}

// wait says the length of a step in whole seconds.
func wait(s pacer.Step) string { return count(int(math.Round(s.Duration)), "second") }
