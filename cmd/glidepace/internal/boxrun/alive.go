package boxrun

import (
	"context"
	"sync/atomic"
	"time"

	"github.com/coreos/go-systemd/v22/daemon"

	"glidepace/pacer"
)

// hungAfter is how long a part of the program that must not hang may be silent.
const hungAfter = 5 * time.Second

// heartbeat is when a part of the program was last seen at work.
type heartbeat struct{ last atomic.Pointer[time.Time] }

func (h *heartbeat) beat() { h.last.Store(new(time.Now())) }

// alive reports whether the last beat was no longer ago than hungAfter.
func (h *heartbeat) alive() bool {
	last := h.last.Load()
	return last != nil && time.Since(*last) <= hungAfter
}

// watchedSound beats when the conductor asks what is heard, which it does ten
// times a second while a session runs.
type watchedSound struct {
	pacer.Sound
	conductor *heartbeat
}

func (w watchedSound) Heard(d time.Duration) time.Time {
	w.conductor.beat()
	return w.Sound.Heard(d)
}

// alive reports whether the button is being watched and, while a session runs, the
// conductor is at work.
func (r *runner) alive(button *heartbeat) bool {
	return button.alive() && (!r.running.Load() || r.conductor.alive())
}

// keepAlive tells systemd, if it is there, that the box is ready once its button
// is watched, and after that, again and again, that it is alive.
func (r *runner) keepAlive(button *heartbeat) (stop func()) {
	ctx, cancel := context.WithCancel(context.Background())
	every, err := daemon.SdWatchdogEnabled(false)
	if err != nil || every <= 0 {
		every = time.Hour
	}
	go func() {
		for !button.alive() && ctx.Err() == nil {
			Wait(ctx, 10*time.Millisecond)
		}
		daemon.SdNotify(false, daemon.SdNotifyReady)
		for ctx.Err() == nil {
			if r.alive(button) {
				daemon.SdNotify(false, daemon.SdNotifyWatchdog)
			}
			Wait(ctx, every/3)
		}
	}()
	return func() {
		cancel()
		daemon.SdNotify(false, daemon.SdNotifyStopping)
	}
}

// Wait waits for d, or until ctx is done.
func Wait(ctx context.Context, d time.Duration) {
	select {
	case <-ctx.Done():
	case <-time.After(d):
	}
}
