package boxrun

import (
	"sync"

	"glidepace/devices/light"
	"glidepace/pacer"
)

// statusLight shows a state, or trouble while the button is stuck.
type statusLight struct {
	light *light.Light

	mu    sync.Mutex
	state light.State
	stuck bool
}

var _ pacer.Follower = (*statusLight)(nil)

func (l *statusLight) set(s light.State) { l.change(func() { l.state = s }) }

func (l *statusLight) setStuck(stuck bool) { l.change(func() { l.stuck = stuck }) }

func (l *statusLight) change(do func()) {
	l.mu.Lock()
	defer l.mu.Unlock()
	do()
	if l.stuck {
		l.light.Set(light.Trouble)
	} else {
		l.light.Set(l.state)
	}
}

// Follow implements pacer.Follower.
func (l *statusLight) Follow(e pacer.Event) {
	switch e.Kind {
	case pacer.Began:
		l.set(light.Running)
	case pacer.Stopped:
		l.set(light.Stopped)
	}
}
