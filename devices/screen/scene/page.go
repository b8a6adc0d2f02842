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

// Place is where in a row something stands.
type Place uint8

const (
	Middle Place = iota
	AtLeft
	AtRight
)

// Direction is where the limb moves to.
type Direction uint8

const (
	Still Direction = iota
	ToStart
	ToEnd
)

// Arm is what the picture shows of the arm.
type Arm uint8

const (
	NoArm Arm = iota
	Moving
	Hangs // loose
)

// Page is what a screen says at one moment, before it is laid out.
type Page struct {
	Title      string
	Where      string // side, set, repetition
	WhereShort string
	Left       string // time left
	Word       string // the large word
	WordAt     Place
	Seconds    string   // left of this step; of the same width all through it
	Text       string   // what to do
	TextRoom   []string // other texts of this repetition: room is kept for the longest
	// Instructions say at length what to do, a sentence each, in place of Text.
	Instructions []string
	Elapsed      float64 // the part of the step that is over, 0 to 1
	Reminder     string
	Next         string
	StartLabel   string
	EndLabel     string
	Arm          Arm
	Hand         float64 // how far the hand has come on the path, up to Far
	Far          float64 // how far the path goes, 1 for the whole of it
	Toward       Direction
	Side         sessions.Side
}

// Page returns what the screen says now. It must know its first step.
func (m *State) Page() Page {
	t, s := m.Timeline, m.Timeline.Steps[m.Step]
	p := Page{
		Title:   t.Title,
		Left:    pacer.Clock(math.Ceil(m.sessionLeft())) + " left",
		Word:    strings.ToUpper(breathWord(s.Breath)),
		Seconds: fmt.Sprintf("%*s", len(countdown(s.Duration)), countdown(m.secondsLeft())),
		Text:    upper(action(t, m.Step)),
		Next:    "next: " + upcoming(t, m.Step),
		Side:    s.Side,
	}
	switch {
	case s.Breath == pacer.Inhale:
		p.WordAt = AtLeft
	case s.Breath == pacer.Exhale:
		p.WordAt = AtRight
	}
	if s.Breath == pacer.BreathPause || s.Move == pacer.MovePause {
		p.Seconds = ""
	}
	switch {
	case s.Move == pacer.Posture:
		p.Word = "POSTURE"
		p.Where, p.WhereShort = takePlace, takePlace
		p.Text, p.Instructions = "", slices.Concat([]string{upper(m.Steering.handsOff) + "."}, PostureTexts(t), []string{upper(breatheFreely) + "."})
	case s.Exercise == 0:
		p.Where = fmt.Sprintf("breath %d of %d", s.BreathNumber+1, t.Session().LeadIn)
		p.WhereShort = p.Where
		p.Text = upper(inTheLap) + ". Only the breath for now."
	default:
		m.exercisePage(&p)
	}
	p.Elapsed = m.elapsed() / s.Duration
	switch e := t.Easing(); {
	case !e.Eased:
	case p.Instructions == nil:
		p.Reminder = upper(Gentler(e))
	case p.Next != m.Steering.warning: // instructions need all the room there is
		p.Next = upper(Gentler(e))
	}
	if m.Note != "" {
		p.Next = m.Note
	}
	switch m.Status {
	case Paused:
		p.Word, p.WordAt, p.Seconds = "PAUSED", Middle, ""
		p.Text, p.Instructions = upper(hangLoose)+". "+upper(breatheFreely)+".", nil
		p.Reminder = "paused — " + m.Steering.goesOn
		p.Next = ""
		p.StartLabel, p.EndLabel = "", ""
		m.hang(&p)
	case Stopped, Asked:
		m.stoppedPage(&p)
	case Ended:
		m.endedPage(&p)
	}
	return p
}

// endedPage has the last words. They come at once: the sound may ring on, and the voice
// may say them.
func (m *State) endedPage(p *Page) {
	*p = Page{Title: m.Timeline.Title, Word: "ENDED", Text: upper(hangLoose) + "."}
	switch m.Outcome {
	case sessions.Completed:
		p.Word = "DONE"
	case sessions.Symptoms: // there is more to say than the picture leaves room for
		p.Text, p.Instructions = "", Sentences(ClosingAdvice(m.Outcome, m.Answer))
		return
	}
	m.hang(p)
}

// stoppedPage keeps nothing of what was under way but its place in the session.
func (m *State) stoppedPage(p *Page) {
	*p = Page{Title: p.Title, Where: p.Where, WhereShort: p.WhereShort, Word: "STOP",
		Text:     upper(hangLoose) + ". " + upper(breatheFreely) + ".",
		Reminder: pacer.Clock(m.sinceStop().Truncate(time.Second).Seconds()) + " since you stopped",
	}
	if m.Status == Asked {
		p.Text = upper(isItBack) + " " + upper(noAnswerEnds) + "."
	}
	m.hang(p)
}

// hang shows the arm hanging loose.
func (m *State) hang(p *Page) {
	if s := m.Timeline.Steps[m.Step]; s.Exercise > 0 {
		p.Arm, p.Side = Hangs, s.Side
	}
}

func (m *State) exercisePage(p *Page) {
	t, s := m.Timeline, m.Timeline.Steps[m.Step]
	e := t.ExerciseOf(s)
	cues := e.Glide.Cues
	out, back := cues.Out, cues.Back
	if e.Own { // its cues are no more than "out" and "back"
		out, back = e.Glide.Out, e.Glide.Back
	}
	p.Title = e.Glide.Title
	set, setShort := "", ""
	if sets := t.SetsOnSide(s); sets > 1 {
		set = fmt.Sprintf(" · set %d of %d", s.Set, sets)
		setShort = fmt.Sprintf(" · set %d/%d", s.Set, sets)
	}
	p.Where, p.WhereShort = side(s)+set, s.Side.String()+setShort
	p.StartLabel, p.EndLabel, p.Far = upper(cues.Start), upper(farEnd(e)), e.Range.Share()
	if t.Easing().Eased {
		p.EndLabel, p.Far = upper(notAsFar), p.Far*smaller
	}
	p.Arm, p.Hand = Moving, m.position()*p.Far

	switch s.Move {
	case pacer.SetUp:
		p.Word = strings.ToUpper(s.Side.String())
		p.Text, p.Instructions = "", append(Sentences(e.Glide.Start), upper(breatheFreely)+".")
		if ResumesStart(t, m.Step) {
			p.Where, p.WhereShort = side(s)+" · "+startAgain, s.Side.String()+", start position again"
		} else if e.Glide.Neck {
			p.Next = m.Steering.warning
		}
	case pacer.Shake:
		p.Word = "REST"
		p.Text = upper(hangLoose) + ". " + upper(breatheFreely) + "."
		p.StartLabel, p.EndLabel = "", ""
		p.Arm = Hangs
	default:
		n := t.RepsInSet(s)
		rep := s.Rep
		if s.Move == pacer.Rest {
			rep = t.Steps[m.Step+1].Rep
		}
		p.Where += fmt.Sprintf(" · repetition %d of %d", rep, n)
		p.WhereShort = fmt.Sprintf("%s · %d of %d%s", s.Side, rep, n, setShort)
		p.TextRoom = []string{out, back}
		p.Reminder = upper(reminder(t, s))
		switch s.Move {
		case pacer.Rest:
			p.Text = p.StartLabel
			if r := e.Range.HowFar(); r != "" {
				p.Text += ". Go " + r + "."
			}
		case pacer.Glide:
			p.Text, p.Toward = upper(out), ToEnd
		case pacer.Return:
			p.Text, p.Toward = upper(back), ToStart
		}
	}
}

// countdown writes the seconds left of a step: 1 in the last of them.
func countdown(left float64) string {
	if n := int(math.Ceil(left)); n < 100 {
		return fmt.Sprint(n)
	}
	return pacer.Clock(math.Ceil(left))
}
