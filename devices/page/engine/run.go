//go:build js && wasm

package main

import (
	"context"
	"fmt"
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
	calm   bool // the person wants little to move
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
	inSet   bool // only during a set
	neck    bool // only where the neck is concerned
	ends    bool // it ends the session, and is heard at any time
}

var (
	dizzy   = control{pacer.SayWarning, "dizzy, or another warning sign", false, true, true}
	enough  = control{pacer.Enough, "enough for this set", true, false, false}
	leave   = control{pacer.Quit, "end", false, false, true}
	hurts   = control{pacer.SayPain, "pain: end for today", false, false, true}
	breath  = control{pacer.SayBreath, scene.BreathSymptoms, false, false, true}
	running = []control{dizzy, {pacer.Toggle, "pause", false, false, false}, enough, leave}

	controls = map[scene.Status][]control{
		scene.Waiting: running,
		scene.Running: running,
		scene.Paused:  {dizzy, {pacer.Toggle, "go on", false, false, false}, enough, leave},
		scene.Stopped: {{pacer.Stop, "it has settled: go on, gentler", false, false, false},
			{pacer.NoSymptoms, "it was only a pause", false, false, false}, dizzy, hurts, breath, leave},
		scene.Asked: {{pacer.Yes, "yes: go on, gentler", false, false, false},
			{pacer.No, "no: end for today", false, false, true}, dizzy, hurts, breath, leave},
	}
)

func (s *screen) draw() {
	p := s.state.Page()
	setText("where", p.Where)
	setText("left", p.Left)
	setText("word", p.Word)
	setText("count", p.Seconds)
	text := paragraph(p.Text)
	for _, sentence := range p.Instructions {
		text += paragraph(sentence)
	}
	setHTML("text", text)
	setText("reminder", p.Reminder)
	setText("next", p.Next)
	setHTML("figure", s.figure(p))
	stands := s.state.StandsForSymptoms()
	document.Call("getElementById", "stop").Set("hidden", stands || s.state.Status == scene.Ended)
	document.Call("getElementById", "run").Get("classList").Call("toggle", "stands", stands)
	steer := ""
	for _, c := range controls[s.state.Status] {
		if c.inSet && !s.state.InSet() || c.neck && !s.state.Neck() || !c.ends && s.state.Deaf() {
			continue
		}
		steer += button(fmt.Sprintf("command-%d", c.command), c.words, "")
	}
	setHTML("steer", steer)
}

// figure draws the arm as the page has it.
func (s *screen) figure(p scene.Page) string {
	o := figure.Options{Left: p.Side == sessions.Left}
	switch p.Arm {
	case scene.Hangs:
		return figure.Draw(figure.Figure{View: figure.Front}, o)
	case scene.Moving:
		f := s.state.Timeline.ExerciseOf(s.state.Timeline.Steps[s.state.Step]).Glide.Figure
		if f == nil {
			return ""
		}
		o.Share, o.Moment = p.Far, p.Hand/p.Far
		if s.calm { // the two ends, and nothing between them
			o.Moment = 0
			if p.Toward == scene.ToEnd || p.Hand >= p.Far {
				o.Moment = 1
			}
		}
		return figure.Draw(*f, o)
	}
	return ""
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
		state:  scene.State{Steering: scene.Touch},
		teller: scene.NewTeller(scene.Touch),
		events: make(chan pacer.Event, 16),
		calm:   js.Global().Call("matchMedia", "(prefers-reduced-motion: reduce)").Get("matches").Bool(),
	}
	go sc.run(ctx)
	c := &pacer.Conductor{Sound: sounds.NewLive(a.sound, a.settings, a.offset), Tail: sounds.Tail}
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
	show("run")
	focus("stop")
	commands := make(chan pacer.Command)
	a.commands = commands
	defer func() { a.commands = nil }()
	return c.Run(ctx, t, commands)
}
