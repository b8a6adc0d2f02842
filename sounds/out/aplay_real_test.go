//go:build real && linux

package out

import (
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"runtime"
	"slices"
	"strings"
	"syscall"
	"testing"
	"time"

	"glidepace/sounds"
	"glidepace/sounds/out/outtest"
)

// bias is how far all clicks together may be from what Heard says, because aplay
// does not tell how much the device holds. spread is how much a single click may
// differ from the others, or from the one before.
//
// On a busy machine, aplay or the server may stop for longer than its buffer of
// 100 ms. Then there is a gap, everything is heard later, and Heard follows
// within a second: so many stalls, of two clicks each, are allowed.
const (
	bias   = 60 * time.Millisecond
	spread = 3 * time.Millisecond
	stalls = 2
)

// openReal opens aplay, which plays to the server through ALSA.
func openReal(t testing.TB, s *outtest.Server) (o Output, lost, back chan error) {
	t.Helper()
	s.ALSA(t)
	return openWay(t, s, "aplay")
}

// watch asks about each of a range of clicks a little before it is heard, as a
// screen does. It returns what Heard said.
func watch(o Output, from, to int) []time.Time {
	var said []time.Time
	for i := from; i < to; i++ {
		time.Sleep(time.Until(o.Heard(i * clickEvery).Add(-20 * time.Millisecond)))
		said = append(said, o.Heard(i*clickEvery))
	}
	time.Sleep(250 * time.Millisecond) // for the last one
	return said
}

// nextClick is the first click that is not on its way to the device yet.
func nextClick(o Output) int {
	sent := time.Since(o.Heard(0)) + 200*time.Millisecond
	return 1 + int(sent/sounds.SampleRate.D(clickEvery))
}

// steady fails the test unless there is a click for each time that Heard said,
// always as long after it, within spread. It returns how long that is.
func steady(t *testing.T, starts, said []time.Time) time.Duration {
	t.Helper()
	var offs []time.Duration
	for _, s := range said {
		off := time.Hour
		for _, at := range starts {
			if d := at.Sub(s); d.Abs() < off.Abs() {
				off = d
			}
		}
		if off.Abs() > sounds.SampleRate.D(clickEvery/2) {
			t.Fatalf("no click where Heard said one was")
		}
		offs = append(offs, off)
	}
	sorted := slices.Sorted(slices.Values(offs))
	mid := sorted[len(sorted)/2]
	t.Logf("%d clicks are heard %v ms after what Heard said, from %v to %v",
		len(offs), ms(mid), ms(sorted[0]), ms(sorted[len(sorted)-1]))
	if mid.Abs() > bias {
		t.Errorf("the constant error is %v ms", ms(mid))
	}
	off := slices.DeleteFunc(offs, func(d time.Duration) bool { return (d - mid).Abs() <= spread })
	if len(off) > 2*stalls {
		t.Errorf("most clicks are %v ms off, but some %v", ms(mid), off)
	}
	return mid
}

// gaps returns by how much the starts have become late. There may be a few gaps.
func gaps(t *testing.T, starts []time.Time) (late time.Duration) {
	t.Helper()
	worst := time.Duration(0)
	var seen []time.Duration
	for i := range starts[1:] {
		off := starts[i+1].Sub(starts[i]) - sounds.SampleRate.D(clickEvery)
		late += off
		if off.Abs() > spread {
			seen = append(seen, off)
		} else {
			worst = max(worst, off.Abs())
		}
	}
	t.Logf("between %d clicks there are 500 ms, at worst %v ms more or less, and gaps of %v", len(starts), ms(worst), seen)
	if len(seen) > stalls {
		t.Errorf("%d gaps", len(seen))
	}
	return late
}

// aplayProcesses returns the ids of the aplays that this process runs.
func aplayProcesses(t testing.TB) []int {
	t.Helper()
	stats, err := filepath.Glob("/proc/[0-9]*/stat")
	if err != nil {
		t.Fatal(err)
	}
	var ids []int
	for _, file := range stats {
		b, err := os.ReadFile(file)
		if err != nil {
			continue // it has ended meanwhile
		}
		var id, parent int
		var name, state string
		fmt.Sscan(string(b), &id, &name, &state, &parent)
		if name == "(aplay)" && parent == os.Getpid() {
			ids = append(ids, id)
		}
	}
	return ids
}

// signalAplay sends a signal to the one aplay that runs.
func signalAplay(t testing.TB, sig syscall.Signal) {
	t.Helper()
	ids := aplayProcesses(t)
	if len(ids) != 1 {
		t.Fatalf("these run as aplay: %v", ids)
	}
	if err := syscall.Kill(ids[0], sig); err != nil {
		t.Fatal(err)
	}
}

func TestAplayInStep(t *testing.T) {
	const n = 24
	s := outtest.Start(t)
	rec := s.Record(t)
	o, lost, _ := openReal(t, s)
	cpu0, _ := usage(t)
	played := time.Now()
	o.Play(clicks(n / 2))

	said := watch(o, 0, n)
	time.Sleep(time.Until(o.Heard(n * clickEvery)))
	cpu, _ := usage(t)
	time.Sleep(time.Second)
	never(t, lost)
	if ids := aplayProcesses(t); ids != nil {
		t.Errorf("at the end of the stream these still run: %v", ids)
	}

	starts := rec.Starts(200 * time.Millisecond)
	if len(starts) != n {
		t.Fatalf("%d clicks recorded, want %d", len(starts), n)
	}
	t.Logf("first sound %v ms after Play and %v ms after what Heard could guess; %v ms of CPU in %v s, recorder included, aplay not",
		ms(starts[0].Sub(played)), ms(starts[0].Sub(said[0])), ms(cpu-cpu0), n/2)
	steady(t, starts, said[1:])

	// By another's ear, which may miss one at the very start.
	onsets := rec.Onsets(t)
	if len(onsets) < n-1 {
		t.Fatalf("%d onsets found, want %d", len(onsets), n)
	}
	gaps(t, onsets[len(onsets)-n+1:])
}

func TestAplayHushReal(t *testing.T) {
	s := outtest.Start(t)
	rec := s.Record(t)
	o, lost, _ := openReal(t, s)
	for range 2 {
		o.Play(tone(60))
		time.Sleep(700 * time.Millisecond)
		o.Hush()
		hushed := time.Now()
		time.Sleep(300 * time.Millisecond)
		late := rec.LastSound().Sub(hushed)
		t.Logf("the last sound is %v ms after Hush", ms(late))
		if late.Abs() > 50*time.Millisecond {
			t.Errorf("the last sound is %v ms after Hush", ms(late))
		}

		// Going on with no time between, as after a very short pause.
		before := len(rec.Starts(50 * time.Millisecond))
		o.Play(tone(60))
		time.Sleep(300 * time.Millisecond)
		o.Hush()
		going := time.Now()
		o.Play(clicks(60))
		said := watch(o, 0, 2)
		o.Hush()
		time.Sleep(100 * time.Millisecond)
		starts := rec.Starts(5 * time.Millisecond)[before:]
		starts = starts[len(starts)-2:] // the clicks, after the tone
		t.Logf("Play right after Hush is heard after %v ms", ms(starts[0].Sub(going)))
		if d := starts[0].Sub(going); d > 150*time.Millisecond || d < 0 {
			t.Errorf("Play right after Hush is heard after %v ms", ms(d))
		}
		steady(t, starts, said[1:])
	}
	never(t, lost)
}

// Whatever takes the sound away for a while: Heard goes on meanwhile, and the
// sound comes back where it is due.
func TestAplayOutages(t *testing.T) {
	s := outtest.Start(t)
	rec := s.Record(t)
	o, lost, back := openReal(t, s)
	o.Play(clicks(60))
	heard := watch(o, 0, 6)
	was := steady(t, rec.Starts(200*time.Millisecond), heard[1:])
	for _, outage := range []struct {
		why      string
		down, up func()
	}{
		{"aplay has ended: signal: killed", func() { signalAplay(t, syscall.SIGKILL) }, func() {}},
		{"aplay takes no more sound", func() { signalAplay(t, syscall.SIGSTOP) }, func() {}},
		// The device goes, and comes again.
		{"aplay takes no more sound",
			func() { s.Control(t, "suspend-sink", "test", "1") },
			func() { s.Control(t, "suspend-sink", "test", "0") }},
		{"aplay has ended: ", s.Kill, func() { s.Restart(t) }},
	} {
		said := o.Heard(120 * clickEvery)
		outage.down()
		err := within(t, lost, 4*time.Second, "lost")
		if !strings.Contains(err.Error(), outage.why) || strings.Contains(err.Error(), "\n") {
			t.Errorf("lost because of %q, want %q", err, outage.why)
		}
		if off := o.Heard(120 * clickEvery).Sub(said); off.Abs() > spread {
			t.Errorf("without sound Heard has moved by %v ms", ms(off))
		}
		rec.Stop()
		outage.up()
		rec = s.Record(t)
		within(t, back, 6*time.Second, "back")
		next := nextClick(o)
		heard := watch(o, next, next+4)
		starts := rec.Starts(200 * time.Millisecond)
		if len(starts) < 4 {
			t.Fatalf("%d clicks after the sound is back, want 4 or more", len(starts))
		}
		is := steady(t, starts, heard)
		if (is - was).Abs() > 2*spread {
			t.Errorf("it is %v ms off, and was %v ms off before", ms(is), ms(was))
		}
		if off := o.Heard(120*clickEvery).Sub(said) - gaps(t, starts[1:]); off.Abs() > spread { // the first may be the rest of one
			t.Errorf("coming back has moved Heard by %v ms", ms(off))
		}
		never(t, lost)
	}
}

// After a gap everything is later, and Heard says so.
func TestAplayStall(t *testing.T) {
	s := outtest.Start(t)
	rec := s.Record(t)
	o, lost, _ := openReal(t, s)
	c := clicks(60)
	o.Play(c)
	heard := watch(o, 0, 4)
	was := steady(t, rec.Starts(200*time.Millisecond), heard[1:])
	said := o.Heard(30 * clickEvery)
	c.stall.Store(int64(700 * time.Millisecond))
	time.Sleep(2500 * time.Millisecond) // the stall, and a second to follow it
	t.Logf("a stall of 700 ms has moved the sound by %v ms", ms(o.Heard(30*clickEvery).Sub(said)))
	next := nextClick(o)
	heard = watch(o, next, next+4)
	is := steady(t, rec.Starts(200*time.Millisecond), heard)
	if (is - was).Abs() > 2*spread {
		t.Errorf("it is %v ms off, and was %v ms off before", ms(is), ms(was))
	}
	never(t, lost)
}

func TestAplayCloseReal(t *testing.T) {
	s := outtest.Start(t)
	s.Record(t) // else the sink begins up to 2 s later
	goroutines := runtime.NumGoroutine()
	for _, hung := range []bool{false, true} {
		o, _, _ := openReal(t, s)
		o.Play(tone(60))
		time.Sleep(300 * time.Millisecond)
		if hung {
			signalAplay(t, syscall.SIGSTOP)
		}
		began := time.Now()
		for range 2 {
			if err := o.Close(); err != nil {
				t.Error(err)
			}
		}
		if d := time.Since(began); d > 2*killAfter {
			t.Errorf("Close took %v", d)
		}
		if ids := aplayProcesses(t); ids != nil {
			t.Errorf("after Close these run: %v", ids)
		}
	}
	time.Sleep(100 * time.Millisecond)
	if n := runtime.NumGoroutine(); n > goroutines {
		t.Errorf("%d goroutines are left of %d", n, goroutines)
	}
}

// A device that opens but does not play, and no device at all.
func TestAplayOpenReal(t *testing.T) {
	s := outtest.Start(t)
	s.ALSA(t)
	s.Setenv(t)
	s.Control(t, "suspend-sink", "test", "1")
	open := func(limit time.Duration, want string) {
		t.Helper()
		began := time.Now()
		o, err := Open("aplay", nil)
		took := time.Since(began)
		if err == nil {
			err = errors.New("it plays")
		}
		t.Logf("%v after %v ms", err, ms(took))
		if o.Name() != "off" || !strings.Contains(err.Error(), want) || strings.Contains(err.Error(), "\n") {
			t.Errorf("output %q, error %v", o.Name(), err)
		}
		if took > limit {
			t.Errorf("it took %v to see that there is no sound", took)
		}
		if ids := aplayProcesses(t); ids != nil {
			t.Errorf("these run: %v", ids)
		}
	}
	open(probeTimeout+2*killAfter, "the device does not play")
	s.Kill()
	open(time.Second, "Connection refused")
}
