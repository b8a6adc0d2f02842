package gpio

import (
	"errors"
	"fmt"
	"sync"

	periph "periph.io/x/conn/v3/gpio"
)

// line is what an output uses of the library's line. It is never asked for its level or
// function: the library would turn it into an input with a pull-up, and so switch on
// what is connected.
type line interface {
	Out(periph.Level) error
	Close()
}

var errClosed = errors.New("it is closed")

// Output is a pin that is switched on (high) and off (low). Any goroutine may
// use it. Each pin is opened once.
type Output struct {
	where, holder string

	mu     sync.Mutex
	line   line
	closed bool
}

// OpenOutput takes the line of that name and switches it off. The error says that there
// is no chip or no such line, that there is no permission, or that the line is busy,
// and what to do about it.
func OpenOutput(name string) (*Output, error) {
	c, l, err := find(name)
	if err != nil {
		return nil, err
	}
	return openOutput(name+" on "+c.Label(), l.Consumer(), l)
}

func openOutput(where, holder string, l line) (*Output, error) {
	o := &Output{where: where, holder: holder, line: l}
	if err := o.Set(false); err != nil {
		return nil, err
	}
	return o, nil
}

// Set switches the pin on or off. After an error the line is released, so that it is not
// held in an unknown state; the next Set takes it again.
func (o *Output) Set(on bool) error {
	o.mu.Lock()
	defer o.mu.Unlock()
	if o.closed {
		return fmt.Errorf("pin %s: %w", o.where, errClosed)
	}
	return o.set(on)
}

func (o *Output) set(on bool) error {
	// The first Out(High) after taking a line drives it low for a moment. That is
	// harmless: low is off.
	if err := o.line.Out(periph.Level(on)); err != nil {
		// Otherwise the library would send every later Out to descriptor 0.
		o.line.Close()
		return explain(o.where, o.holder, err)
	}
	return nil
}

// Close switches the pin off and releases it. The library's Halt would leave it on. A
// second Close does nothing.
func (o *Output) Close() error {
	o.mu.Lock()
	defer o.mu.Unlock()
	if o.closed {
		return nil
	}
	o.closed = true
	err := o.set(false)
	o.line.Close()
	return err
}
