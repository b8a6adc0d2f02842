//go:build real && linux

package live

import (
	"io"
	"testing"
	"time"

	"glidepace/cmd/glidepace/internal/console"
	"glidepace/devices/keyboard/ptytest"
	"glidepace/pacer"
)

// If the full screen fails, the keys still work: the session goes on, and the patient
// must be able to stop it.
func TestRealFullScreenThatFails(t *testing.T) {
	far, tty := ptytest.New(t, 80, 24)
	commands := make(chan pacer.Command)
	s, err := openStage(t.Context(), "full", false, tty, tty, commands, console.NewNotes(io.Discard))
	if err != nil {
		t.Fatal(err)
	}
	defer s.close()
	s.Follow(pacer.Event{Kind: pacer.Stepped}) // of no timeline: it fails
	for deadline := time.Now().Add(10 * time.Second); time.Now().Before(deadline); {
		io.WriteString(far, "\r")
		select {
		case c := <-commands:
			if s.failed.Load() && c == pacer.Stop {
				return
			}
		case <-time.After(100 * time.Millisecond):
		}
	}
	t.Error("no key is heard")
}
