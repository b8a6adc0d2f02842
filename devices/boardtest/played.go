//go:build real && linux

package boardtest

import (
	"testing"
	"testing/synctest"
	"time"

	"glidepace/devices/buzzer"
)

// recorder is a pin that keeps its changes.
type recorder struct {
	began time.Time
	edges []Edge
}

func (r *recorder) Set(on bool) error {
	if n := len(r.edges); n > 0 && r.edges[n-1].High != on || n == 0 && on {
		r.edges = append(r.edges, Edge{At: time.Since(r.began), High: on})
	}
	return nil
}

// Played returns what a buzzer does with its pin in fake time when it plays a
// pattern, for comparing with what the kernel saw.
func Played(t *testing.T, p buzzer.Pattern) []Edge {
	t.Helper()
	pin := &recorder{}
	synctest.Test(t, func(t *testing.T) {
		pin.began = time.Now()
		b := buzzer.New(buzzer.NewPinMotor(pin, buzzer.DefaultLead), buzzer.DefaultLead, nil)
		b.Play(p)
		time.Sleep(2 * time.Second) // no pattern is longer
		b.Close()
	})
	return pin.edges
}
