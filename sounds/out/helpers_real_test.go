//go:build real

package out

import (
	"math"
	"sync/atomic"
	"syscall"
	"testing"
	"time"

	"glidepace/sounds"
	"glidepace/sounds/out/outtest"
)

// A tune is a test's stream: a click of 10 ms every half second from the first
// frame on, or a steady tone.
type tune struct {
	frames int
	tone   bool
	at     int
	stall  atomic.Int64 // what the next Stream is to sleep before anything else
}

const clickEvery = 24000

func (c *tune) Stream(fs [][2]float64) (int, bool) {
	time.Sleep(time.Duration(c.stall.Swap(0)))
	n := min(len(fs), c.frames-c.at)
	for i := range fs[:n] {
		k := c.at + i
		x := 0.3 * math.Cos(2*math.Pi*500*float64(k)/48000)
		if !c.tone {
			x *= max(0, 1-float64(k%clickEvery)/480)
		}
		fs[i] = [2]float64{x, x}
	}
	c.at += n
	return n, n > 0
}

func (c *tune) Err() error       { return nil }
func (c *tune) Len() int         { return c.frames }
func (c *tune) Position() int    { return c.at }
func (c *tune) Seek(p int) error { c.at = p; return nil }

func clicks(seconds float64) *tune { return &tune{frames: int(seconds * float64(sounds.SampleRate))} }
func tone(seconds float64) *tune {
	return &tune{frames: int(seconds * float64(sounds.SampleRate)), tone: true}
}

// near is how close to its time a click has to be.
const near = 3 * time.Millisecond

func ms(d time.Duration) float64 { return math.Round(float64(d)/1e4) / 100 }

// open opens the server's output. lost and back tell when sound is lost, and
// when it is back.
func open(t testing.TB, s *outtest.Server) (o Output, lost, back chan error) {
	t.Helper()
	o, lost, back = openWay(t, s, "auto")
	if o.Name() != "pulse" {
		t.Fatalf("the output is %q", o.Name())
	}
	return o, lost, back
}

func openWay(t testing.TB, s *outtest.Server, way string) (o Output, lost, back chan error) {
	t.Helper()
	s.Setenv(t)
	lost, back = make(chan error, 10), make(chan error, 10)
	o, err := Open(way, func(err error) {
		t.Logf("sound: %v", err)
		if err != nil {
			lost <- err
		} else {
			back <- nil
		}
	})
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { o.Close() })
	return o, lost, back
}

func within(t *testing.T, c <-chan error, d time.Duration, what string) error {
	t.Helper()
	select {
	case err := <-c:
		return err
	case <-time.After(d):
		t.Fatalf("not %s within %v", what, d)
		return nil
	}
}

// never fails the test if sound has been lost.
func never(t *testing.T, lost <-chan error) {
	t.Helper()
	select {
	case err := <-lost:
		t.Errorf("sound was lost: %v", err)
	default:
	}
}

// compare fails the test unless each of the starts is that of a click, by
// Heard; and returns which clicks they are.
func compare(t *testing.T, o Output, starts []time.Time) []int {
	t.Helper()
	var clicks []int
	worst := time.Duration(0)
	for _, at := range starts {
		i := int(math.Round(float64(at.Sub(o.Heard(0))) / float64(sounds.SampleRate.D(clickEvery))))
		off := at.Sub(o.Heard(i * clickEvery))
		if off.Abs() > near {
			t.Errorf("click %d is heard %v ms after what Heard says", i, ms(off))
		}
		if off.Abs() > worst.Abs() {
			worst = off
		}
		clicks = append(clicks, i)
	}
	t.Logf("%d clicks, at worst %v ms after what Heard says", len(starts), ms(worst))
	return clicks
}

func usage(t testing.TB) (cpu time.Duration, maxRSS int64) {
	t.Helper()
	var u syscall.Rusage
	if err := syscall.Getrusage(syscall.RUSAGE_SELF, &u); err != nil {
		t.Fatal(err)
	}
	return time.Duration(u.Utime.Nano() + u.Stime.Nano()), u.Maxrss
}
