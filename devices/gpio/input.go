package gpio

import (
	"context"
	"errors"
	"fmt"
	"os"
	"time"

	periph "periph.io/x/conn/v3/gpio"
	"periph.io/x/host/v3/gpioioctl"
)

// lines is what an input uses of the library's set of lines. Here it holds one line.
// Unlike the library's single line, a set distinguishes an error from a low level, and
// says which way an edge went.
type lines interface {
	Read(mask periph.GPIOValue) (periph.GPIOValue, error)
	WaitForEdge(timeout time.Duration) (int, periph.Edge, error)
	Close() error
}

// lookAgain is how long Watch waits for an edge before it reads the level itself. The
// library can wait for ever until it is halted, but a halt just before the wait begins
// is lost. A wait that ends by itself needs none.
const lookAgain = 100 * time.Millisecond

// The kernel keeps the last 16 edges of a line.
const kept = 16

// Input is a pin whose level is read. One goroutine uses it at a time.
type Input struct {
	// Looked, if not nil, is called by Watch each time it looks at the pin, at least
	// ten times a second. It shows that Watch is at work.
	Looked func()

	where, holder string
	request       func() (lines, error)
	lines         lines // nil when not taken
	closed        bool
}

// OpenInput takes the line of that name as an input, with the chip's own resistor to
// 3.3 V if pullUp says so, otherwise with the pull it has. Its errors are those of
// OpenOutput.
func OpenInput(name string, pullUp bool) (*Input, error) {
	c, l, err := find(name)
	if err != nil {
		return nil, err
	}
	pull := periph.PullNoChange
	if pullUp {
		pull = periph.PullUp
	}
	in := &Input{where: name + " on " + c.Label(), holder: l.Consumer(), request: func() (lines, error) {
		return c.LineSet(gpioioctl.LineInput, periph.BothEdges, pull, name)
	}}
	if err := in.take(); err != nil {
		return nil, err
	}
	return in, nil
}

// take takes the line if it is not taken.
func (in *Input) take() error {
	switch {
	case in.closed:
		return fmt.Errorf("pin %s: %w", in.where, errClosed)
	case in.lines != nil:
		return nil
	}
	ls, err := in.request()
	if err != nil {
		return explain(in.where, in.holder, err)
	}
	in.lines = ls
	return nil
}

// drop releases a line that failed. The next use takes it again.
func (in *Input) drop(err error) error {
	in.lines.Close()
	in.lines = nil
	return explain(in.where, in.holder, err)
}

// Read returns whether the pin is high.
func (in *Input) Read() (high bool, err error) {
	if err := in.take(); err != nil {
		return false, err
	}
	v, err := in.lines.Read(1)
	if err != nil {
		return false, in.drop(err)
	}
	return v&1 == 1, nil
}

// Watch calls tell with the level now and after each change, and with when it was
// seen, on the monotonic clock. A switch that bounces gives many changes within
// milliseconds; debouncing is the caller's. Edges from before the call are dropped. If
// the kernel lost edges, as it does with more than 16 at once, tell has the level that
// results within 0.1 s.
//
// It returns nil within 0.1 s of the end of ctx, or an error of the line, after
// which it may be called again.
func (in *Input) Watch(ctx context.Context, tell func(at time.Time, high bool)) error {
	if err := in.take(); err != nil {
		return err
	}
	for range kept { // edges made while nobody waited
		if _, _, err := in.lines.WaitForEdge(time.Millisecond); err != nil {
			break
		}
	}
	level, err := in.Read()
	if err != nil {
		return err
	}
	tell(time.Now(), level)
	for ctx.Err() == nil {
		if in.Looked != nil {
			in.Looked()
		}
		_, edge, err := in.lines.WaitForEdge(lookAgain)
		at := time.Now()
		high := edge == periph.RisingEdge
		if err != nil {
			if !errors.Is(err, os.ErrDeadlineExceeded) {
				return in.drop(err)
			}
			if high, err = in.Read(); err != nil {
				return err
			}
		}
		// An edge may come just after the look that saw its level.
		if high != level {
			level = high
			tell(at, high)
		}
	}
	return nil
}

// Close releases the pin. A Watch must have returned.
func (in *Input) Close() error {
	in.closed = true
	if in.lines == nil {
		return nil
	}
	err := in.lines.Close()
	in.lines = nil
	return err
}
