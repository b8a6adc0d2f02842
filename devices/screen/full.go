package screen

import (
	"context"
	"errors"
	"fmt"
	"io"
	"time"

	tea "charm.land/bubbletea/v2"
	"github.com/charmbracelet/colorprofile"
	"golang.org/x/term"

	"glidepace/devices/keyboard"
	"glidepace/devices/screen/scene"
	"glidepace/pacer"
)

// patience is how long the full screen waits for a terminal that takes no output
// before it gives up.
const patience = time.Second

// A step is written to the terminal at most 25 ms after it is heard. By ITU-R
// BT.1359-1 one notices sound that is 45 ms or more before the picture.
const framesPerSecond = 40

// Full draws a session in the whole window and reads the keys that steer it.
type Full struct {
	program  *tea.Program
	terminal *keyboard.Terminal // that keys are read from, nil without one
	commands chan<- pacer.Command
	done     chan struct{} // closed when Run returns
}

var _ pacer.Follower = (*Full)(nil)

// unsteady is an output that never makes a screen wait. It keeps what it cannot
// write at once.
type unsteady interface {
	Stuck() bool     // nothing is taken at the moment
	Again(do func()) // when it is taken after all
}

// Style is how a full screen draws.
type Style struct {
	Color bool
	Calm  bool // the arm is seen at the ends of its movement, not on its way
}

// NewFull returns a full screen that reads keys from in and draws on out. Both are usually a terminal. What the keys say goes to
// commands. If in is nil, no keys are read. An out that says when it is stuck gets
// no new picture meanwhile, and keys are taken all the same.
func NewFull(in io.Reader, out io.Writer, style Style, commands chan<- pacer.Command) *Full {
	f := &Full{commands: commands, done: make(chan struct{})}
	if t, ok := keyboard.NewTerminal(in, f.takeBack, func() { go f.send(pacer.Quit) }); ok {
		f.terminal, in = t, t
	}
	profile := colorprofile.ASCII
	if style.Color {
		profile = colorprofile.ANSI
	}
	m := model{State: scene.State{Steering: scene.Keyboard, Calm: style.Calm}, send: f.send, paint: paint{style.Color}}
	if u, ok := out.(unsteady); ok {
		m.out, m.shown = u, new(tea.View)
		u.Again(func() { f.program.Send(againMsg{}) })
	}
	f.program = tea.NewProgram(m,
		tea.WithInput(in), tea.WithOutput(out), tea.WithColorProfile(profile),
		tea.WithFPS(framesPerSecond), tea.WithoutSignalHandler())
	return f
}

// Follow implements pacer.Follower. It waits until Run runs; after Run it
// does nothing.
func (f *Full) Follow(e pacer.Event) { f.program.Send(eventMsg(e)) }

// Note shows a short line in place of what comes next, until the next note; ""
// removes it.
func (f *Full) Note(text string) { f.program.Send(noteMsg(text)) }

// Run draws until ctx is done, also the last words while the sound rings on. On
// return the window is as it was before; if the terminal takes no more output, only
// its settings are put back. The error says that the terminal failed.
func (f *Full) Run(ctx context.Context) error {
	defer close(f.done)
	if t := f.terminal; t != nil {
		if restore, err := t.Open(); err == nil {
			defer restore()
		}
		t.DropTyped()
	}
	finished := make(chan error, 1)
	go func() {
		_, err := f.program.Run()
		finished <- err
	}()
	var err error
	select {
	case err = <-finished:
	case <-ctx.Done():
		go f.program.Quit()
		select {
		case err = <-finished:
		case <-time.After(patience):
			go f.program.Kill()
			err = errors.New("the terminal takes no output")
		}
	}
	if err != nil {
		return fmt.Errorf("full screen: %w (plain lines need less of a terminal)", err)
	}
	return nil
}

// takeBack takes the terminal back from a shell.
func (f *Full) takeBack(fd int) error {
	_, err := term.MakeRaw(fd)
	go f.program.Send(tea.ClearScreen()) // and draw all of it again
	return err
}

func (f *Full) send(c pacer.Command) {
	select {
	case f.commands <- c:
	case <-f.done:
	}
}
