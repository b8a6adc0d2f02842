package screen

import (
	"math"
	"time"

	tea "charm.land/bubbletea/v2"

	"glidepace/devices/keyboard"
	"glidepace/pacer"
	"glidepace/sessions"
)

// status is what the session is doing.
type status uint8

const (
	waiting status = iota // for the first step
	running
	paused
	stopped // for symptoms
	asked   // whether they are still there
	ended
)

// model is the state of the full screen. The picture depends only on the step, the
// moment at which it began, and now.
type model struct {
	send  func(pacer.Command)
	paint paint
	out   unsteady  // nil where the output is steady
	shown *tea.View // the last picture before out was stuck

	width, height int

	status   status
	timeline *pacer.Timeline
	step     int
	at       time.Time // when the step began
	stop     time.Time // when it was stopped for symptoms
	heard    time.Time // from when on the conductor hears all keys
	now      time.Time
	outcome  sessions.Outcome // once ended
	note     string
	chain    int // the chain of frames that is drawn; see frameMsg
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
		m.note = string(msg)
	case frameMsg:
		if msg.chain == m.chain {
			m.now = msg.now
			return m, m.nextFrame()
		}
	case eventMsg:
		return m.follow(pacer.Event(msg))
	}
	return m, nil
}

func (m model) follow(e pacer.Event) (tea.Model, tea.Cmd) {
	switch e.Kind {
	case pacer.Began:
		if m.heard.IsZero() {
			m.heard = e.At.Add(pacer.DeafAtStart)
		}
		return m, nil
	case pacer.Answered:
		if e.Answer == pacer.Settled {
			m.heard = e.At.Add(pacer.DeafWhenGoingOn)
		}
		return m, nil
	case pacer.Stepped:
		m.status, m.timeline, m.step, m.at = running, e.Timeline, e.Step, e.At
	case pacer.Paused:
		m.status = paused
	case pacer.Stopped:
		m.status, m.stop, m.heard = stopped, e.At, e.At.Add(pacer.DeafAfterStop)
	case pacer.StillThere:
		m.status = asked
	case pacer.Ended:
		m.status, m.outcome = ended, e.Outcome
	default:
		return m, nil
	}
	m.now = e.At
	m.chain++
	return m, m.nextFrame()
}

// frame is the time between two frames while the limb moves.
const frame = 50 * time.Millisecond

// nextFrame asks for the next frame: soon while the limb moves, otherwise when the
// seconds on the screen change.
func (m model) nextFrame() tea.Cmd {
	d := frame
	switch m.status {
	case running:
		if move := m.timeline.Steps[m.step].Move; move != pacer.Glide && move != pacer.Return {
			left := m.secondsLeft()
			if left <= 0 {
				return nil
			}
			d = pacer.Seconds(left-math.Ceil(left)+1) + time.Millisecond
		}
	case stopped, asked:
		d = time.Second - m.sinceStop()%time.Second + time.Millisecond
	case paused:
		if !m.deaf() {
			return nil
		}
		d = m.heard.Sub(m.now)
	default:
		return nil
	}
	if m.deaf() {
		d = min(d, m.heard.Sub(m.now))
	}
	chain := m.chain
	return tea.Tick(d, func(t time.Time) tea.Msg { return frameMsg{t, chain} })
}

// inSet reports whether a set is under way.
func (m model) inSet() bool { return m.timeline != nil && m.timeline.Steps[m.step].InSet() }

// standsForSymptoms reports whether the session stands still for symptoms.
func (m model) standsForSymptoms() bool { return m.status == stopped || m.status == asked }

// sinceStop returns how long ago the session was stopped for symptoms.
func (m model) sinceStop() time.Duration { return max(m.now.Sub(m.stop), 0) }

// deaf reports whether only the keys that end the session are heard yet.
func (m model) deaf() bool {
	return m.status == waiting || m.status != ended && m.now.Before(m.heard)
}

// neck reports whether the key for a warning sign of the neck glide means
// something: during such a glide, and after any stop in a session that has one.
func (m model) neck() bool {
	if m.timeline == nil || m.standsForSymptoms() {
		return m.timeline != nil && m.timeline.Neck()
	}
	e := m.timeline.ExerciseOf(m.timeline.Steps[m.step])
	return e != nil && e.Glide.Neck
}

// elapsed returns the seconds since the step began.
func (m model) elapsed() float64 {
	return min(max(m.now.Sub(m.at).Seconds(), 0), m.timeline.Steps[m.step].Duration)
}

// secondsLeft returns the seconds until the step ends.
func (m model) secondsLeft() float64 {
	return m.timeline.Steps[m.step].Duration - m.elapsed()
}

// sessionLeft returns the seconds until the session ends, if nothing stops it.
func (m model) sessionLeft() float64 {
	return m.timeline.Duration - m.timeline.Steps[m.step].Start - m.elapsed()
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
