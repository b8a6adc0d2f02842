//go:build real

package out

import (
	"encoding/binary"
	"math"
	"os"
	"syscall"
	"testing"
	"time"

	"glidepace/sounds/out/outtest"
)

// clicks is a stream of short clicks, one every interval, from frame 0.
type clicks struct {
	interval, length, at int
}

func (c *clicks) Stream(fs [][2]float64) (int, bool) {
	n := min(len(fs), c.length-c.at)
	for i := range fs[:n] {
		x := 0.0
		if k := (c.at + i) % c.interval; k < 480 {
			x = 0.5 * math.Cos(2*math.Pi*1000*float64(k)/48000) * (1 - float64(k)/480)
		}
		fs[i] = [2]float64{x, x}
	}
	c.at += n
	return n, n > 0
}
func (c *clicks) Err() error       { return nil }
func (c *clicks) Len() int         { return c.length }
func (c *clicks) Position() int    { return c.at }
func (c *clicks) Seek(p int) error { c.at = p; return nil }

func seconds(s float64) int { return int(s * float64(SampleRate)) }

func ms(d time.Duration) float64 { return float64(d) / float64(time.Millisecond) }

func cpu(t *testing.T) time.Duration {
	var u syscall.Rusage
	if err := syscall.Getrusage(syscall.RUSAGE_SELF, &u); err != nil {
		t.Fatal(err)
	}
	return time.Duration(u.Utime.Nano() + u.Stime.Nano())
}

func TestX(t *testing.T) {
	start := outtest.Start
	if os.Getenv("PW") != "" {
		start = outtest.StartPipeWire
	}
	s := start(t)
	s.Setenv(t)
	rec := s.Record(t)
	time.Sleep(time.Second)
	t0 := time.Now()
	o, err := Open("auto", func(err error) { t.Log("changed", err) })
	if err != nil {
		t.Fatal(err)
	}
	defer o.Close()
	t.Log("open", time.Since(t0))
	c0 := cpu(t)
	o.Play(&clicks{interval: seconds(.5), length: seconds(10)})
	for i := range 60 {
		h := o.Heard(0)
		hh := o.Heard(seconds(10))
		if i%5 == 0 {
			t.Logf("%.1f heard0 %.3f  end %.3f", ms(time.Since(t0)), ms(h.Sub(t0)), ms(hh.Sub(t0)))
		}
		time.Sleep(10 * time.Millisecond)
	}
	time.Sleep(10 * time.Second)
	t.Log("cpu", cpu(t)-c0)
	for i, on := range rec.Onsets(t) {
		t.Logf("%d onset %.3f  heard-onset %.3f", i, ms(on.Sub(t0)), ms(o.Heard(i*seconds(.5)).Sub(on)))
	}
	sm := rec.Samples()
	f, _ := os.Create("/tmp/probe/rec.raw")
	binary.Write(f, binary.LittleEndian, sm)
	f.Close()
	k := -1000000
	for i, x := range sm {
		if x > 2000 && i-k > 10000 {
			k = i
			t.Logf("crossing at %.3f", ms(rec.Time(i).Sub(t0)))
		}
	}
}
