package screen

import (
	"bytes"
	"context"
	"io"
	"strings"
	"testing"
	"testing/synctest"
	"time"

	"glidepace/pacer"
)

const (
	leavesAlternateScreen = "\x1b[?1049l"
	showsCursor           = "\x1b[?25h"
)

// runningFull is a full screen on pipes, which draws a glide.
func runningFull(t *testing.T, ctx context.Context, out io.Writer) (f *Full, keys *io.PipeWriter, commands chan pacer.Command, over chan error) {
	in, keys := io.Pipe()
	t.Cleanup(func() {
		keys.Close()
		time.Sleep(time.Minute) // frames that were asked for run out
	})
	commands = make(chan pacer.Command)
	f = NewFull(in, out, false, commands)
	over = make(chan error, 1)
	go func() { over <- f.Run(ctx) }()
	tl := timeline(t, onExhale)
	glide := find(t, tl, func(s pacer.Step) bool { return s.Move == pacer.Glide })
	f.Follow(pacer.Event{Kind: pacer.Stepped, Timeline: tl, Step: glide, At: time.Now()})
	return f, keys, commands, over
}

func restored(t *testing.T, out string) {
	t.Helper()
	for _, code := range []string{leavesAlternateScreen, showsCursor} {
		if strings.LastIndex(out, code) < strings.LastIndex(out, "\x1b[?1049h") {
			t.Errorf("the window is not restored: %q is missing", code)
		}
	}
}

func TestFullScreenEndsWithTheSession(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		var out bytes.Buffer
		f, keys, commands, over := runningFull(t, t.Context(), &out)
		keys.Write([]byte(" "))
		if c := <-commands; c != pacer.Toggle {
			t.Errorf("space says %v", c)
		}
		keys.Write([]byte{3})
		if c := <-commands; c != pacer.Quit {
			t.Errorf("Ctrl-C says %v", c)
		}
		keys.Close() // the end of a pipe is not the end of the session
		time.Sleep(time.Second)
		select {
		case c := <-commands:
			t.Errorf("the end of the input says %v", c)
		case err := <-over:
			t.Fatalf("it ended before the session: %v", err)
		default:
		}
		f.Follow(pacer.Event{Kind: pacer.Ended})
		if err := <-over; err != nil {
			t.Error(err)
		}
		f.Follow(pacer.Event{Kind: pacer.Ended}) // does not block
		restored(t, out.String())
	})
}

func TestFullScreenEndsWithItsContext(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		var out bytes.Buffer
		ctx, cancel := context.WithCancel(t.Context())
		_, keys, _, over := runningFull(t, ctx, &out)
		keys.Write([]byte("q")) // nobody listens to it
		synctest.Wait()
		cancel()
		if err := <-over; err != nil {
			t.Error(err)
		}
		restored(t, out.String())
	})
}

// A terminal that takes no output does not keep the program from ending.
func TestFullScreenOnAStuckTerminal(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		stuck := make(chan struct{})
		ctx, cancel := context.WithCancel(t.Context())
		f, _, _, over := runningFull(t, ctx, writer(func(b []byte) (int, error) {
			<-stuck
			return len(b), nil
		}))
		time.Sleep(time.Second)
		cancel()
		if err := <-over; err == nil || !strings.Contains(err.Error(), "takes no output") {
			t.Errorf("got %v", err)
		}
		f.Follow(pacer.Event{Kind: pacer.Ended}) // does not block
		close(stuck)
	})
}
