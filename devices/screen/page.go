package screen

import (
	"fmt"
	"math"
	"slices"
	"strings"
	"time"

	"glidepace/pacer"
	"glidepace/sessions"
)

// place is where in a row something stands.
type place uint8

const (
	middle place = iota
	atLeft
	atRight
)

// direction is where the limb moves to.
type direction uint8

const (
	still direction = iota
	toStart
	toEnd
)

// arm is what the picture shows of the arm.
type arm uint8

const (
	noArm arm = iota
	moving
	hangs // loose
)

// page is what a screen says at one moment, before it is laid out.
type page struct {
	title      string
	where      string // side, set, repetition
	whereShort string
	left       string // time left
	word       string // the large word
	wordAt     place
	seconds    string   // left of this step; of the same width all through it
	text       string   // what to do
	textRoom   []string // other texts of this repetition: room is kept for the longest
	// instructions say at length what to do, a sentence each, in place of text.
	instructions []string
	elapsed      float64 // the part of the step that is over, 0 to 1
	reminder     string
	next         string
	startLabel   string
	endLabel     string
	arm          arm
	hand         float64 // how far the hand has come on the path, up to far
	far          float64 // how far the path goes, 1 for the whole of it
	toward       direction
	side         sessions.Side
}

func (m *state) page() page {
	t, s := m.timeline, m.timeline.Steps[m.step]
	p := page{
		title:   t.Title,
		left:    pacer.Clock(math.Ceil(m.sessionLeft())) + " left",
		word:    strings.ToUpper(breathWord(s.Breath)),
		seconds: fmt.Sprintf("%*s", len(countdown(s.Duration)), countdown(m.secondsLeft())),
		text:    upper(action(t, m.step)),
		next:    "next: " + upcoming(t, m.step),
		side:    s.Side,
	}
	switch {
	case s.Breath == pacer.Inhale:
		p.wordAt = atLeft
	case s.Breath == pacer.Exhale:
		p.wordAt = atRight
	}
	if s.Breath == pacer.BreathPause || s.Move == pacer.MovePause {
		p.seconds = ""
	}
	switch {
	case s.Move == pacer.Posture:
		p.word = "POSTURE"
		p.where, p.whereShort = takePlace, takePlace
		p.text, p.instructions = "", slices.Concat([]string{upper(m.steering.handsOff) + "."}, postureTexts(t), []string{upper(breatheFreely) + "."})
	case s.Exercise == 0:
		p.where = fmt.Sprintf("breath %d of %d", s.BreathNumber+1, t.Session().LeadIn)
		p.whereShort = p.where
		p.text = upper(inTheLap) + ". Only the breath for now."
	default:
		m.exercisePage(&p)
	}
	p.elapsed = m.elapsed() / s.Duration
	switch e := t.Easing(); {
	case !e.Eased:
	case p.instructions == nil:
		p.reminder = upper(gentler(e))
	case p.next != m.steering.warning: // instructions need all the room there is
		p.next = upper(gentler(e))
	}
	if m.note != "" {
		p.next = m.note
	}
	switch m.status {
	case paused:
		p.word, p.wordAt, p.seconds = "PAUSED", middle, ""
		p.text, p.instructions = upper(hangLoose)+". "+upper(breatheFreely)+".", nil
		p.reminder = "paused — " + m.steering.goesOn
		p.next = ""
		p.startLabel, p.endLabel = "", ""
		m.hang(&p)
	case stopped, asked:
		m.stoppedPage(&p)
	case ended:
		m.endedPage(&p)
	}
	return p
}

// endedPage has the last words. They come at once: the sound may ring on.
func (m *state) endedPage(p *page) {
	*p = page{title: m.timeline.Title, word: "ENDED", text: upper(hangLoose) + "."}
	if m.outcome == sessions.Completed {
		p.word = "DONE"
	}
	m.hang(p)
}

// stoppedPage keeps nothing of what was under way but its place in the session.
func (m *state) stoppedPage(p *page) {
	*p = page{title: p.title, where: p.where, whereShort: p.whereShort, word: "STOP",
		text:     upper(hangLoose) + ". " + upper(breatheFreely) + ".",
		reminder: pacer.Clock(m.sinceStop().Truncate(time.Second).Seconds()) + " since you stopped",
	}
	if m.status == asked {
		p.text = upper(isItBack) + " " + upper(noAnswerEnds) + "."
	}
	m.hang(p)
}

// hang shows the arm hanging loose.
func (m *state) hang(p *page) {
	if s := m.timeline.Steps[m.step]; s.Exercise > 0 {
		p.arm, p.side = hangs, s.Side
	}
}

func (m *state) exercisePage(p *page) {
	t, s := m.timeline, m.timeline.Steps[m.step]
	e := t.ExerciseOf(s)
	cues := e.Glide.Cues
	out, back := cues.Out, cues.Back
	if e.Own { // its cues are no more than "out" and "back"
		out, back = e.Glide.Out, e.Glide.Back
	}
	p.title = e.Glide.Title
	set, setShort := "", ""
	if sets := t.SetsOnSide(s); sets > 1 {
		set = fmt.Sprintf(" · set %d of %d", s.Set, sets)
		setShort = fmt.Sprintf(" · set %d/%d", s.Set, sets)
	}
	p.where, p.whereShort = side(s)+set, s.Side.String()+setShort
	p.startLabel, p.endLabel, p.far = upper(cues.Start), upper(farEnd(e)), pathOf[e.Range]
	if t.Easing().Eased {
		p.endLabel, p.far = upper(notAsFar), p.far*smaller
	}
	p.arm, p.hand = moving, position(t, m.step, m.elapsed())*p.far

	switch s.Move {
	case pacer.SetUp:
		p.word = strings.ToUpper(s.Side.String())
		p.text, p.instructions = "", append(sentences(e.Glide.Start), upper(breatheFreely)+".")
		if resumesStart(t, m.step) {
			p.where, p.whereShort = side(s)+" · "+startAgain, s.Side.String()+", start position again"
		} else if e.Glide.Neck {
			p.next = m.steering.warning
		}
	case pacer.Shake:
		p.word = "REST"
		p.text = upper(hangLoose) + ". " + upper(breatheFreely) + "."
		p.startLabel, p.endLabel = "", ""
		p.arm = hangs
	default:
		n := t.RepsInSet(s)
		rep := s.Rep
		if s.Move == pacer.Rest {
			rep = t.Steps[m.step+1].Rep
		}
		p.where += fmt.Sprintf(" · repetition %d of %d", rep, n)
		p.whereShort = fmt.Sprintf("%s · %d of %d%s", s.Side, rep, n, setShort)
		p.textRoom = []string{out, back}
		p.reminder = upper(reminder(t, s))
		switch s.Move {
		case pacer.Rest:
			p.text = p.startLabel
			if r := HowFar(e.Range); r != "" {
				p.text += ". Go " + r + "."
			}
		case pacer.Glide:
			p.text, p.toward = upper(out), toEnd
		case pacer.Return:
			p.text, p.toward = upper(back), toStart
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
