package screen

import (
	"time"

	tea "charm.land/bubbletea/v2"

	"glidepace/devices/keyboard"
	"glidepace/devices/screen/scene"
	"glidepace/pacer"
)

// model is the state of the full screen. The picture depends only on the step, the
// moment at which it began, and now.
type model struct {
	send  func(pacer.Command)
	paint paint
	out   unsteady  // nil where the output is steady
	shown *tea.View // the last picture before out was stuck

	width, height int

	scene.State
	chain int // the chain of frames that is drawn; see frameMsg
}

// noteMsg is a note for the patient; "" removes it.
type noteMsg string

// againMsg says that the terminal takes output again.
type againMsg struct{}

// eventMsg is something that happened in the session.
type eventMsg pacer.Event

// frameMsg says that it is time for the next frame. Each event begins a new chain
// of frames, and the old one ends.
type frameMsg struct {
	now   time.Time
	chain int
}

// Init implements tea.Model.
func (m model) Init() tea.Cmd { return nil }

// Update implements tea.Model.
func (m model) Update(msg tea.Msg) (tea.Model, tea.Cmd) {
	switch msg := msg.(type) {
	case tea.WindowSizeMsg:
		m.width, m.height = msg.Width, msg.Height
	case tea.KeyPressMsg:
		if c, ok := keyboard.CommandOf(msg.String()); ok {
			return m, func() tea.Msg { m.send(c); return nil }
		}
	case noteMsg:
		m.Note = string(msg)
	case frameMsg:
		if msg.chain == m.chain {
			m.Now = msg.now
			return m, m.nextFrame()
		}
	case eventMsg:
		return m.follow(pacer.Event(msg))
	}
	return m, nil
}

func (m model) follow(e pacer.Event) (tea.Model, tea.Cmd) {
	if !m.State.Follow(e) {
		return m, nil
	}
	m.chain++
	return m, m.nextFrame()
}

// nextFrame asks for the next frame.
func (m model) nextFrame() tea.Cmd {
	d := m.Next()
	if d == 0 {
		return nil
	}
	chain := m.chain
	return tea.Tick(d, func(t time.Time) tea.Msg { return frameMsg{t, chain} })
}

// View implements tea.Model.
func (m model) View() tea.View {
	if m.out != nil && m.out.Stuck() {
		return *m.shown
	}
	v := tea.NewView(m.draw())
	v.AltScreen = true
	if m.shown != nil {
		*m.shown = v
	}
	return v
}
