// Package boxrun is the program that a lent box runs on its own: it waits for
// its button, paces today's session by touch, light and sound, and keeps the
// diary on the card. It has nobody to ask: it starts no session that it knows
// should not begin, and what it cannot know does not stop it.
package boxrun

import (
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"strings"
	"sync/atomic"
	"time"

	"glidepace/cmd/glidepace/internal/live"
	"glidepace/devices/box"
	"glidepace/devices/button"
	"glidepace/devices/buzzer"
	"glidepace/devices/light"
	"glidepace/pacer"
	"glidepace/sessions/diary"
)

// runner is a box at work.
type runner struct {
	folder string // of the box file
	box    *box.File
	log    *logger
	clock  func() clock

	button    *button.Button
	light     *statusLight
	buzzer    *buzzer.Buzzer
	idle      light.State // what the light shows between sessions
	conductor heartbeat
	running   atomic.Bool // a session runs; false while it is stopped
	lastBegan time.Time   // the last session since the program began in which something was done or felt; zero for none
}

var _ pacer.Follower = (*runner)(nil)

// Run waits for the button of a box and runs its sessions until ctx is done.
// It also ends, with an error, when the button is gone: a box that cannot be
// stopped starts nothing. folder is that of the box file.
func Run(ctx context.Context, folder string, b *box.File, log io.Writer) error {
	p, err := openPins(b)
	if err != nil {
		return err
	}
	defer p.close()
	r := &runner{folder: folder, box: b, log: newLogger(log), clock: readClock}
	return r.run(ctx, p)
}

func (r *runner) run(ctx context.Context, p *pins) error {
	ctx, cancel := context.WithCancel(ctx)
	defer cancel()
	lamp := light.New(p.light, func(err error) { r.log.warn("light: %v", err) })
	defer lamp.Close()
	r.light = &statusLight{light: lamp}
	r.buzzer = buzzer.New(buzzer.NewPinMotor(p.buzzer, r.box.Lead), r.box.Lead, func(err error) { r.log.warn("buzzer: %v", err) })
	defer r.buzzer.Close()
	r.button = button.New(p.button, false, func(stuck bool) {
		if stuck {
			r.log.warn("the button has been down for %v: it is stuck, or something lies on it", button.StuckAfter)
		}
		r.light.setStuck(stuck)
	})
	if v := os.Getenv("PULSE_SERVER"); strings.Contains(v, "tcp") {
		os.Unsetenv("PULSE_SERVER")
		r.log.warn("PULSE_SERVER=%s is not used: a box uses no network", v)
	}
	gone := make(chan error, 1)
	go func() {
		err := r.button.Watch(ctx)
		cancel()
		gone <- err
	}()

	stop := r.keepAlive(&p.watched)
	defer stop()
	r.makeVoice(ctx)
	r.idle = light.Ready
	for ctx.Err() == nil {
		r.light.set(r.idle)
		r.log.info("ready: a press starts")
		if r.button.AwaitStart(ctx) != nil {
			break
		}
		if err := r.session(ctx); err != nil {
			r.log.warnOf("cannot start: ", err)
			r.buzzer.Play(buzzer.CannotStart)
			r.light.set(light.Trouble)
			Wait(ctx, troubleShown)
		}
	}
	if err := <-gone; err != nil {
		return fmt.Errorf("button: %w", err)
	}
	return nil
}

// troubleShown is how long the light says that a session could not begin.
const troubleShown = 10 * time.Second

// voiceTime is how long the making of a voice may keep the box from being ready.
const voiceTime = 2 * time.Minute

// makeVoice makes the voice before anybody waits for it: on a small board that takes
// long, and what takes longer than voiceTime is left for later. The cache keeps it. If
// something is wrong with the voice, the log says so at the first press.
func (r *runner) makeVoice(ctx context.Context) {
	if r.box.Sound == "off" {
		return
	}
	r.light.set(light.Running) // a dark light would say that nothing runs
	ctx, cancel := context.WithTimeout(ctx, voiceTime)
	defer cancel()
	file := r.path(r.box.Session)
	if t, err := live.Load(file); err == nil {
		live.LoadVoice(ctx, file, t.Session())
	}
}

// path is the path of a file that the box file names.
func (r *runner) path(name string) string {
	return filepath.Join(r.folder, filepath.FromSlash(name))
}

// Follow implements pacer.Follower. It logs what happens, except steps and
// repetitions: repetitions are logged once they are in the diary.
func (r *runner) Follow(e pacer.Event) {
	switch e.Kind {
	case pacer.Began:
		r.running.Store(true)
		r.log.info("running")
	case pacer.Paused:
		r.log.info("the program was halted for a while; the session goes on")
	case pacer.Stopped:
		r.running.Store(false)
		r.log.info("stopped")
	case pacer.Answered:
		if e.Answer == pacer.WarningSign {
			r.log.info("a neck glide was paced: this counts as a warning sign")
			return
		}
		r.log.info("after %v: %s", e.After.Round(time.Second), e.Answer)
	case pacer.Ended:
		r.running.Store(false)
	}
}

// withCure adds to an error of the card's diary what to do about it.
func withCure(err error) error {
	if errors.As(err, new(*diary.PlaceError)) {
		return fmt.Errorf("%w; bring the box back to the clinic", err)
	}
	return err
}
