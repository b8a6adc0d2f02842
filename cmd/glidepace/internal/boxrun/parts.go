package boxrun

import (
	"errors"
	"fmt"
	"io"
	"sync"

	"glidepace/devices/box"
	"glidepace/devices/button"
	"glidepace/devices/buzzer"
	"glidepace/devices/gpio"
	"glidepace/devices/light"
	"glidepace/pacer"
)

// pins are what a box is wired to.
type pins struct {
	buzzer  buzzer.Switch
	light   light.Pin
	button  button.Pin
	watched heartbeat // of whoever watches the button
	open    []io.Closer
}

func openPins(b *box.File) (_ *pins, err error) {
	p := &pins{}
	defer func() {
		if err != nil {
			p.close()
		}
	}()
	motor, err := openPin(p, "buzzer", b.Buzzer, gpio.OpenOutput)
	if err != nil {
		return nil, err
	}
	lamp, err := openPin(p, "light", b.Light, gpio.OpenOutput)
	if err != nil {
		return nil, err
	}
	push, err := openPin(p, "button", b.Button, func(name string) (*gpio.Input, error) { return gpio.OpenInput(name, true) })
	if err != nil {
		return nil, err
	}
	push.Looked = p.watched.beat
	p.buzzer, p.light, p.button = motor, lamp, push
	return p, nil
}

func openPin[T io.Closer](p *pins, part, name string, open func(string) (T, error)) (T, error) {
	pin, err := open(name)
	if err != nil {
		return pin, fmt.Errorf("%s: %w", part, err)
	}
	p.open = append(p.open, pin)
	return pin, nil
}

// close switches all pins off and lets go of them.
func (p *pins) close() {
	for _, pin := range p.open {
		pin.Close()
	}
}

// SwitchOff takes the pins of a box's buzzer and light, which drives them low,
// and lets go of them. One that cannot be taken does not keep the other on.
func SwitchOff(b *box.File) error {
	return switchOff(b, func(pin string) (io.Closer, error) { return gpio.OpenOutput(pin) })
}

func switchOff(b *box.File, open func(pin string) (io.Closer, error)) error {
	var errs []error
	for _, p := range []struct{ part, pin string }{{"buzzer", b.Buzzer}, {"light", b.Light}} {
		pin, err := open(p.pin)
		if err == nil {
			err = pin.Close()
		}
		if err != nil {
			errs = append(errs, fmt.Errorf("%s: %w", p.part, err))
		}
	}
	return errors.Join(errs...)
}

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
