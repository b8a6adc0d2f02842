package screen

import (
	"fmt"
	"io"
	"time"

	"glidepace/devices/screen/scene"
	"glidepace/pacer"
)

// Lines writes what a Teller tells. A line begins with the paced time of the session.
//
// Each event is written in one Write, when it comes. A writer that fails does not
// stop the session.
type Lines struct {
	w      io.Writer
	teller *scene.Teller
}

var _ pacer.Follower = (*Lines)(nil)

// NewLines returns Lines that write to w, which must not be buffered.
func NewLines(w io.Writer) *Lines { return &Lines{w, scene.NewTeller(scene.Keyboard)} }

// Follow implements pacer.Follower.
func (l *Lines) Follow(e pacer.Event) {
	text := l.teller.Line(e)
	if text == "" {
		return
	}
	d := e.Session.Round(100 * time.Millisecond)
	io.WriteString(l.w, fmt.Sprintf("%d:%04.1f  %s\n", int(d.Minutes()), (d%time.Minute).Seconds(), text))
}
