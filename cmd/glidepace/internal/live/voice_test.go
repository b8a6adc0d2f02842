package live

import (
	"context"
	"testing"
	"testing/synctest"
	"time"
)

// A session waits for its voice as long as it has patience; then the voice goes on
// being made until it is done or stopped.
func TestPatiently(t *testing.T) {
	for _, c := range []struct {
		needs   time.Duration
		inTime  bool
		waited  time.Duration
		stopped bool // by us, a second later
	}{
		{0, true, 0, false},
		{4 * time.Second, true, 4 * time.Second, false},
		{5500 * time.Millisecond, false, 5 * time.Second, false},
		{time.Hour, false, 5 * time.Second, true},
	} {
		synctest.Test(t, func(t *testing.T) {
			began := time.Now()
			stopped := false
			result, inTime, stop := patiently(t.Context(), func(ctx context.Context) string {
				select {
				case <-time.After(c.needs):
				case <-ctx.Done():
					time.Sleep(time.Second) // as a program that has to be killed
					stopped = true
				}
				return "made"
			})
			if waited := time.Since(began); inTime != c.inTime || waited != c.waited || (result == "made") != c.inTime {
				t.Errorf("%v: %q, in time %v after %v", c.needs, result, inTime, waited)
			}
			time.Sleep(time.Second)
			stop()
			stop()
			if stopped != c.stopped {
				t.Errorf("%v: stopped %v", c.needs, stopped)
			}
		})
	}
}
