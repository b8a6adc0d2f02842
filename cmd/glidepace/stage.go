package main

import (
	"context"
	"os"
	"sync"
	"sync/atomic"

	"glidepace/cmd/glidepace/internal/console"
	"glidepace/devices/keyboard"
	"glidepace/devices/screen"
	"glidepace/pacer"
)

// stage shows a session and takes its keys: in the whole window, in plain
// lines, or with nothing to see. A full screen that fails becomes lines.
type stage struct {
	full   *screen.Full       // nil where it is not asked for
	lines  pacer.Follower     // nil where nothing is to be seen
	keys   *keyboard.Listener // nil while the full screen takes them
	parted bool               // the last words are on the screen; known after close

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

// note shows a short line on a full screen; lines have it on standard error.
func (s *stage) note(text string) {
	if s.full != nil && !s.failed.Load() {
		s.full.Note(text)
	}
}

// close leaves the screen and restores the terminal. Closing again does
// nothing.
func (s *stage) close() { s.once.Do(s.end) }

// openStage opens what --screen asks for. What the keys say goes to commands.
func (p *paceRun) openStage(ctx context.Context, commands chan<- pacer.Command, notes *console.Notes) (*stage, error) {
	way := p.screen
	if way == "auto" {
		way = "lines"
		if console.IsTerminal(p.in) && console.Redraws(p.out) {
			way = "full"
		}
	}
	if way == "full" && !console.IsTerminal(p.out) {
		notes.Add("--screen full needs a terminal to write to; the session goes on in lines")
		way = "lines"
	}
	s := &stage{}
	if way != "off" {
		s.lines = screen.NewLines(p.out)
	}
	takeKeys := func() (err error) {
		s.keys, err = keyboard.Steer(p.in, commands)
		return err
	}
	in := p.in
	if way != "full" || !console.IsTerminal(in) {
		if err := takeKeys(); err != nil {
			return nil, err
		}
		in = nil
	}
	if way != "full" {
		s.parted = s.lines != nil
		s.end = func() { s.keys.Close() }
		return s, nil
	}
	s.full = screen.NewFull(in, p.out, os.Getenv("NO_COLOR") == "", commands)
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
		s.parted = s.failed.Load()
	}
	return s, nil
}
