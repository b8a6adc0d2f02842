//go:build js && wasm

package main

import (
	"context"
	"fmt"
	"math"
	"syscall/js"
	"time"

	"glidepace/devices/buzzer"
	"glidepace/devices/screen/scene"
	"glidepace/pacer"
	"glidepace/sessions"
	"glidepace/sessions/glides/figure"
	"glidepace/sessions/history"
	"glidepace/sounds"
)

// screen shows a session that runs.
type screen struct {
	state  scene.State
	teller *scene.Teller
	events chan pacer.Event
	stood  *time.Time // see app

	scrolled int // how far the text was scrolled, in pixels

	pictures map[drawing]string // drawn so far
}

var _ pacer.Follower = (*screen)(nil)

// Follow implements pacer.Follower.
func (s *screen) Follow(e pacer.Event) { s.events <- e }

// run shows what happens until ctx is done.
func (s *screen) run(ctx context.Context) {
	var frame <-chan time.Time
	for {
		select {
		case e := <-s.events:
			if line := s.teller.Line(e); line != "" {
				setText("line", line)
			}
			if s.state.Timeline == nil { // it may stand still before its first step
				s.state.Timeline, s.state.At = e.Timeline, e.At
			}
			if !s.state.Follow(e) {
				continue
			}
		case s.state.Now = <-frame:
		case <-ctx.Done():
			return
		}
		s.draw()
		if d := s.state.Next(); d > 0 {
			frame = time.After(d)
		} else {
			frame = nil
		}
	}
}

// control is a button beside a session.
type control struct {
	command pacer.Command
	words   string
	class   string
	inSet   bool // only during a set
	neck    bool // only where the neck is concerned
	ends    bool // it ends the session, and is heard at any time
}

var (
	dizzy   = control{command: pacer.SayWarning, words: "dizzy, faint; sight or speech", class: "wide", neck: true, ends: true}
	toggle  = control{command: pacer.Toggle, words: "pause"}
	goOn    = control{command: pacer.Toggle, words: "go on"}
	enough  = control{command: pacer.Enough, words: "enough for this set", inSet: true}
	leave   = control{command: pacer.Quit, words: "end the session", ends: true}
	warning = control{command: pacer.SayWarning, words: "dizzy or faint; trouble with sight, speech or swallowing: end", neck: true, ends: true}
	hurts   = control{command: pacer.SayPain, words: "pain: end for today", ends: true}
	breath  = control{command: pacer.SayBreath, words: scene.BreathSymptoms + ": end", ends: true}
	tired   = control{command: pacer.Quit, words: "end for today", ends: true}

	controls = map[scene.Status][]control{
		scene.Waiting: {dizzy, toggle, enough, leave},
		scene.Running: {dizzy, toggle, enough, leave},
		scene.Paused:  {dizzy, goOn, enough, leave},
		scene.Stopped: {{command: pacer.Stop, words: "it has settled: go on, gentler"},
			{command: pacer.NoSymptoms, words: "it was only a pause: go on"}, warning, hurts, breath, tired},
		scene.Asked: {{command: pacer.Yes, words: "yes: go on, gentler"},
			{command: pacer.No, words: "no: end for today", ends: true}, warning, hurts, breath, tired},
	}
)

// draw writes what has changed.
func (s *screen) draw() {
	p := s.state.Page()
	if s.state.Status == scene.Stopped {
		p.Next = "When it has settled, go on. Or end for today:"
	}
	setText("where", p.Where)
	setText("left", p.Left)
	setText("word", p.Word)
	setText("count", p.Seconds)
	text := paragraph(p.Text)
	for _, sentence := range p.Instructions {
		text += paragraph(sentence)
	}
	if p.Instructions != nil { // what comes next may be long, too: it is read with them
		text, p.Next = text+paragraph(upper(p.Next)), ""
	}
	if setHTML("text", text) {
		s.scrolled = element("text").Get("scrollTop").Int()
	}
	s.scrollText(p)
	setText("reminder", p.Reminder)
	setText("next", p.Next)
	s.drawFigure(p)
	steer := ""
	for _, c := range controls[s.state.Status] {
		if c.neck && !s.state.Neck() {
			continue
		}
		// What means nothing yet keeps its place, so that nothing moves under a finger.
		off := c.inSet && !s.state.InSet() || !c.ends && s.state.Deaf()
		steer += controlButton(fmt.Sprintf("command-%d", c.command), c.words, c.class, off)
	}
	focused := focusedKey()
	if !setHTML("steer", steer) {
		return
	}
	stands := s.state.StandsForSymptoms()
	element("run").Get("classList").Call("toggle", "stands", stands)
	element("stop").Set("hidden", stands || s.state.Status == scene.Ended)
	if stands {
		*s.stood = s.state.Stop
		js.Global().Call("scrollTo", 0, 0)
	}
	keepFocus(focused, "stop", "steer")
}

// scrollText moves long instructions through their window in the time that there is,
// unless the patient has moved them.
func (s *screen) scrollText(p scene.Page) {
	e := element("text")
	switch room := e.Get("scrollHeight").Int() - e.Get("clientHeight").Int(); {
	case p.Instructions == nil:
	case e.Get("scrollTop").Int() == s.scrolled:
		e.Set("scrollTop", math.Round(float64(room)*p.Elapsed))
		s.scrolled = e.Get("scrollTop").Int()
	}
}

var hanging = &figure.Figure{View: figure.Front}

// drawFigure draws the arm as the page has it.
func (s *screen) drawFigure(p scene.Page) {
	var f *figure.Figure
	o := figure.Options{Left: p.Side == sessions.Left}
	switch p.Arm {
	case scene.Hangs:
		f = hanging
	case scene.Moving:
		f = s.state.Timeline.ExerciseOf(s.state.Timeline.Steps[s.state.Step]).Glide.Figure
		o.Share, o.Moment = p.Far, p.Hand/p.Far
	}
	picture := ""
	if f != nil {
		picture = s.picture(drawing{f, o})
	}
	setHTML("figure", picture)
}

// movementPicture is where an exercise goes, "" where nobody has drawn it.
func movementPicture(e sessions.Exercise) string {
	if e.Glide.Figure == nil {
		return ""
	}
	return `<div class="picture">` + figure.Draw(*e.Glide.Figure, figure.Options{Moment: 1, Share: e.Range.Share(), Left: e.Side == sessions.Left, Arrow: true, Labels: true}) + "</div>"
}

// drawing is what a picture depends on.
type drawing struct {
	figure  *figure.Figure
	options figure.Options
}

// moments is how many pictures show a movement. To draw one takes a slow phone many
// milliseconds, so each is drawn once.
const moments = 24

// picture draws a figure, or has drawn it before.
func (s *screen) picture(d drawing) string {
	d.options.Moment = math.Round(d.options.Moment*moments) / moments
	picture, drawn := s.pictures[d]
	if !drawn {
		picture = figure.Draw(*d.figure, d.options)
		s.pictures[d] = picture
	}
	return picture
}

// vibration is the motor of a phone, which has one strength.
type vibration struct{}

var _ buzzer.Motor = vibration{}

func (vibration) Drive(strength float64) error {
	ms := 0
	if strength > 0 {
		ms = 2000 // until the next call
	}
	js.Global().Get("navigator").Call("vibrate", ms)
	return nil
}
func (m vibration) Halt() error { return m.Drive(0) }

// vibrates reports whether the browser can.
func vibrates() bool { return js.Global().Get("navigator").Get("vibrate").Truthy() }

// pace runs a session.
func (a *app) pace(t *pacer.Timeline, record *history.Writer) pacer.Result {
	ctx, cancel := context.WithCancel(context.Background())
	defer cancel()
	defer a.keepAwake()()
	sc := &screen{
		state:    scene.State{Steering: scene.Touch, Calm: js.Global().Call("matchMedia", "(prefers-reduced-motion: reduce)").Get("matches").Bool()},
		teller:   scene.NewTeller(scene.Touch),
		events:   make(chan pacer.Event, 16),
		pictures: map[drawing]string{},
		stood:    &a.stood,
	}
	go sc.run(ctx)
	sound := sounds.NewLive(a.sound, a.settings, a.offset)
	c := &pacer.Conductor{Sound: sound, Voice: sound, Tail: sounds.Tail}
	if vibrates() {
		b := buzzer.New(vibration{}, buzzer.DefaultLead, nil)
		defer b.Close()
		c.Followers = append(c.Followers, b)
	}
	c.Followers = append(c.Followers, sc, record)
	setText("title", t.Title)
	for _, id := range []string{"where", "left", "word", "count", "text", "reminder", "next", "figure", "steer", "line"} {
		setHTML(id, "")
	}
	element("stop").Set("hidden", false)
	show("run")
	focus("stop")
	commands := make(chan pacer.Command)
	a.commands = commands
	defer func() { a.commands = nil }()
	return c.Run(ctx, t, commands)
}
