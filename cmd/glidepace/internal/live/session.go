// Package live puts a session together and runs it: it loads the file and the
// voice, opens sound, screen and keys, and writes into the diary what is done.
package live

import (
	"context"
	"io"
	"time"

	"glidepace/cmd/glidepace/internal/console"
	"glidepace/devices/buzzer"
	"glidepace/pacer"
	"glidepace/sessions/history"
	"glidepace/sounds"
)

// Session holds what a session needs to be heard, seen, felt and steered. It is made
// ready before the person begins.
type Session struct {
	In     io.Reader
	Out    io.Writer
	Screen string // as for openStage
	Calm   bool   // little is to move on a full screen
	Notes  *console.Notes
	Sound  *SoundOut
	Sounds sounds.Settings
	Offset time.Duration  // how late the sound is heard
	Buzzer *buzzer.Buzzer // nil for none
}

// Ended is what became of a session.
type Ended struct {
	pacer.Result
	Record  *history.Writer // still open; nil for a session that is not recorded
	Advised bool            // the closing advice is on the screen
	sound   pacer.Sound
}

// mostLate is the most by which a sound server is late with the last words: if it is
// gone, nobody waits for them.
const mostLate = 3 * time.Second

// HearOut waits until the last words are heard, or until ctx is done.
func (o Ended) HearOut(ctx context.Context) {
	if o.Words == 0 {
		return
	}
	left := min(time.Until(o.sound.Heard(o.Words)), o.Words+mostLate)
	select {
	case <-time.After(left):
	case <-ctx.Done():
	}
}

// Run runs t. As soon as the screen is open, it calls record to begin the record of
// the session; record is nil for a session that is not recorded.
func (s *Session) Run(ctx context.Context, t *pacer.Timeline, record func() *history.Writer) (o Ended, err error) {
	ctx, cancel := context.WithCancel(ctx)
	defer cancel()
	commands := make(chan pacer.Command)
	stage, err := openStage(ctx, s.Screen, s.Calm, s.In, s.Out, commands, s.Notes)
	if err != nil {
		return o, err
	}
	defer stage.close()
	sound := s.Sound.Live(s.Sounds, s.Offset)
	c := &pacer.Conductor{Sound: sound, Tail: s.Sound.Tail()}
	if s.Sound.Name() != "off" {
		c.Voice = sound
	}
	if s.Buzzer != nil {
		c.Tail = max(c.Tail, buzzer.Done.Length())
		c.Followers = append(c.Followers, s.Buzzer)
	}
	c.Followers = append(c.Followers, stage)
	if record != nil {
		o.Record = record()
		c.Followers = append(c.Followers, o.Record)
	}
	s.Sound.begin(stage, o.Record)
	o.sound = sound
	o.Result = c.Run(ctx, t, commands)
	cancel()
	stage.close()
	s.Notes.Show()
	o.Advised = stage.advised
	return o, nil
}
