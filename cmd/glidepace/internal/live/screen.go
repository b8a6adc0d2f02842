package live

import (
	"context"
	"io"
	"os"
	"sync"
	"sync/atomic"

	"glidepace/cmd/glidepace/internal/console"
	"glidepace/devices/keyboard"
	"glidepace/devices/screen"
	"glidepace/pacer"
)

// stage shows a session and takes its keys: in the whole window, in plain lines,
// or without a screen. If the full screen fails, lines take its place.
type stage struct {
	full    *screen.Full       // nil if none was asked for
	lines   pacer.Follower     // nil without a screen
	keys    *keyboard.Listener // nil while the full screen takes them
	advised bool               // the closing advice is on the screen; known after close

	failed atomic.Bool // the full screen
	once   sync.Once
	end    func()
}

var _ pacer.Follower = (*stage)(nil)

// Follow implements pacer.Follower.
func (s *stage) Follow(e pacer.Event) {
	switch {
	case s.full != nil && !s.failed.Load():
		s.full.Follow(e)
	case s.lines != nil:
		s.lines.Follow(e)
	}
}

// note shows a short line on a full screen. With plain lines it is on standard
// error already.
func (s *stage) note(text string) {
	if s.full != nil && !s.failed.Load() {
		s.full.Note(text)
	}
}

// close leaves the screen and restores the terminal. Closing again does
// nothing.
func (s *stage) close() { s.once.Do(s.end) }

// openStage opens a screen: "full", "lines", "off", or "auto" for the best that
// the terminal can show. On a calm one little moves. Keys become commands.
func openStage(ctx context.Context, way string, calm bool, in io.Reader, out io.Writer, commands chan<- pacer.Command, notes *console.Notes) (*stage, error) {
	if way == "auto" {
		way = "lines"
		if console.IsTerminal(in) && console.Redraws(out) {
			way = "full"
		}
	}
	if way == "full" && !console.IsTerminal(out) {
		notes.Add("a full screen needs a terminal to write to; the session goes on in lines")
		way = "lines"
	}
	s := &stage{}
	if way != "off" {
		s.lines = screen.NewLines(console.FoldLines(out))
	}
	takeKeys := func() (err error) {
		s.keys, err = keyboard.Steer(in, commands)
		return err
	}
	if way != "full" || !console.IsTerminal(in) {
		if err := takeKeys(); err != nil {
			return nil, err
		}
		in = nil
	}
	if way != "full" {
		s.advised = s.lines != nil
		s.end = func() { s.keys.Close() }
		return s, nil
	}
	s.full = screen.NewFull(in, out, screen.Style{Color: os.Getenv("NO_COLOR") == "", Calm: calm}, commands)
	notes.Hold()
	ctx, cancel := context.WithCancel(ctx)
	over := make(chan struct{})
	go func() {
		defer close(over)
		if err := s.full.Run(ctx); err != nil {
			s.failed.Store(true)
			notes.Add("%v; the session goes on in lines", err)
			notes.Show()
			if s.keys == nil && ctx.Err() == nil {
				if err := takeKeys(); err != nil {
					notes.Add("%v", err)
				}
			}
		}
	}()
	s.end = func() {
		cancel()
		<-over
		if s.keys != nil {
			s.keys.Close()
		}
		s.advised = s.failed.Load()
	}
	return s, nil
}
