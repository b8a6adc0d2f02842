//go:build real

package out

import (
	"net"
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

func TestInStep(t *testing.T) { inStep(t, outtest.Start(t), 24, near) }

// PipeWire's latency is only known to a step, here of 5 ms, and what it plays
// is recorded a few ms late.
func TestInStepPipeWire(t *testing.T) { inStep(t, outtest.StartPipeWire(t), 20, 8*time.Millisecond) }

func inStep(t *testing.T, s *outtest.Server, n int, tolerance time.Duration) {
	rec := s.Record(t)
	began := time.Now()
	o, lost, _ := open(t, s)
	cpu0, _ := usage(t)
	o.Play(clicks(float64(n) / 2))

	// As a screen would, ask a little before each click.
	var heard []time.Time
	for i := range n {
		time.Sleep(time.Until(o.Heard(i * clickEvery).Add(-20 * time.Millisecond)))
		heard = append(heard, o.Heard(i*clickEvery))
	}
	time.Sleep(time.Until(o.Heard(n * clickEvery)))
	cpu, rss := usage(t)
	time.Sleep(2 * afterEnd)
	never(t, lost)
	if left := s.Control(t, "list", "short", "sink-inputs"); left != "" {
		t.Errorf("the stream has not ended at the server: %s", left)
	}

	starts := rec.Starts(200 * time.Millisecond)
	if len(starts) != n {
		t.Fatalf("%d clicks recorded, want %d", len(starts), n)
	}
	t.Logf("%v ms from Open to the first sample; %v ms of CPU in %v s, recorder included; %d MB at most",
		ms(starts[0].Sub(began)), ms(cpu-cpu0), n/2, rss>>10)
	// Heard could only guess about the first click, and the recording of it may
	// lack its beginning.
	first, last, mean := starts[1].Sub(heard[1]), starts[n-1].Sub(heard[n-1]), time.Duration(0)
	for i := range n {
		off := starts[i].Sub(heard[i])
		mean += off / time.Duration(n)
		if i > 0 && off.Abs() > tolerance || off.Abs() > 25*time.Millisecond {
			t.Errorf("click %d is heard %v ms after what Heard said", i, ms(off))
		}
	}
	t.Logf("heard %v ms after what Heard said, the first %v, the last %v", ms(mean), ms(first), ms(last))

	// No gap and no drift, by another's ear; it may miss one at the very start.
	onsets := rec.Onsets(t)
	if len(onsets) < n-1 {
		t.Fatalf("%d onsets found, want %d", len(onsets), n)
	}
	onsets = onsets[len(onsets)-n+1:]
	for i, at := range onsets {
		if off := at.Sub(onsets[0]) - sounds.SampleRate.D(i*clickEvery); off.Abs() > time.Millisecond {
			t.Errorf("click %d is %v ms late against the second", i+1, ms(off))
		}
	}
}

func TestHush(t *testing.T)         { hush(t, outtest.Start(t)) }
func TestHushPipeWire(t *testing.T) { hush(t, outtest.StartPipeWire(t)) }

func hush(t *testing.T, s *outtest.Server) {
	rec := s.Record(t)
	o, lost, _ := open(t, s)
	quickest, nearest := time.Hour, time.Hour
	for range 2 {
		o.Play(tone(60))
		time.Sleep(700 * time.Millisecond)
		o.Hush()
		hushed := time.Now()
		time.Sleep(300 * time.Millisecond)
		if late := rec.LastSound().Sub(hushed); late > 50*time.Millisecond || late < -50*time.Millisecond {
			t.Errorf("the last sound is %v ms after Hush", ms(late))
		} else {
			t.Logf("the last sound is %v ms after Hush", ms(late))
		}

		// Going on is at once, and right from the start.
		before := len(rec.Starts(100 * time.Millisecond))
		going := time.Now()
		o.Play(clicks(60))
		time.Sleep(60 * time.Millisecond)
		said := o.Heard(clickEvery)
		time.Sleep(700 * time.Millisecond)
		o.Hush()
		time.Sleep(100 * time.Millisecond)
		starts := rec.Starts(100 * time.Millisecond)[before:]
		if len(starts) != 2 {
			t.Fatalf("%d clicks, want 2", len(starts))
		}
		t.Logf("first sound %v ms after Play; the second click %v ms after what Heard said 60 ms after Play",
			ms(starts[0].Sub(going)), ms(starts[1].Sub(said)))
		quickest = min(quickest, starts[0].Sub(going))
		nearest = min(nearest, starts[1].Sub(said).Abs())
	}
	// A busy machine may be late once.
	if quickest > 60*time.Millisecond {
		t.Errorf("first sound %v ms after Play at best", ms(quickest))
	}
	if nearest > 15*time.Millisecond {
		t.Errorf("Heard was %v ms off 60 ms after Play at best", ms(nearest))
	}
	never(t, lost)
}

func TestReplace(t *testing.T) {
	s := outtest.Start(t)
	rec := s.Record(t)
	o, lost, _ := open(t, s)
	o.Play(tone(60))
	time.Sleep(500 * time.Millisecond)
	o.Play(clicks(1))
	time.Sleep(time.Until(o.Heard(clickEvery * 2)))
	starts := rec.Starts(50 * time.Millisecond)
	// The first click goes on from the tone, so only the second starts.
	if len(starts) != 2 {
		t.Fatalf("%d starts, want the tone's and the second click's", len(starts))
	}
	compare(t, o, starts[1:])
	never(t, lost)
}

// A stream that does not deliver in time loses what is late, and nothing more.
func TestStall(t *testing.T)         { stall(t, outtest.Start(t), near) }
func TestStallPipeWire(t *testing.T) { stall(t, outtest.StartPipeWire(t), 8*time.Millisecond) }

func stall(t *testing.T, s *outtest.Server, tolerance time.Duration) {
	rec := s.Record(t)
	o, lost, _ := open(t, s)
	c := clicks(5)
	o.Play(c)
	time.Sleep(time.Second)
	said := o.Heard(8 * clickEvery)
	c.stall.Store(int64(1200 * time.Millisecond))
	time.Sleep(time.Until(o.Heard(10 * clickEvery)))
	starts := rec.Starts(200 * time.Millisecond)
	last := starts[len(starts)-2] // click 8
	t.Logf("%d clicks; after the stall one is heard %v ms after what Heard said before it and %v ms after what Heard says",
		len(starts), ms(last.Sub(said)), ms(last.Sub(o.Heard(8*clickEvery))))
	if len(starts) < 6 || len(starts) > 9 {
		t.Errorf("%d clicks, want about 2 fewer than 10", len(starts))
	}
	if off := last.Sub(said); off.Abs() > tolerance {
		t.Errorf("the stall has moved the sound by %v ms", ms(off))
	}
	never(t, lost)
}

// Whatever takes the sound away for a while: Heard goes on meanwhile, and the
// sound comes back where it is due.
func TestOutages(t *testing.T) {
	s := outtest.Start(t)
	rec := s.Record(t)
	o, lost, back := open(t, s)
	o.Play(clicks(60))
	time.Sleep(1700 * time.Millisecond)
	compare(t, o, rec.Starts(200 * time.Millisecond)[1:])
	for _, outage := range []struct {
		name     string
		down, up func()
	}{
		{"the device is suspended",
			func() { s.Control(t, "suspend-sink", "test", "1") },
			func() { s.Control(t, "suspend-sink", "test", "0") }},
		{"the server hangs", func() { s.Signal(syscall.SIGSTOP) }, func() { s.Signal(syscall.SIGCONT) }},
		{"the server dies", s.Kill, func() { s.Restart(t) }},
		{"the only device goes, and the stream with it; then there is one again",
			func() { s.Control(t, "unload-module", "module-null-sink") },
			func() { s.Control(t, "load-module", "module-null-sink", "sink_name=test", "rate=48000") }},
	} {
		t.Log(outage.name)
		said := o.Heard(120 * clickEvery)
		outage.down()
		within(t, lost, 3*time.Second, "lost")
		time.Sleep(300 * time.Millisecond)
		if off := o.Heard(120 * clickEvery).Sub(said); off.Abs() > time.Millisecond {
			t.Errorf("without sound Heard has moved by %v ms", ms(off))
		}
		rec.Stop()
		outage.up()
		rec = s.Record(t)
		within(t, back, 5*time.Second, "back")
		time.Sleep(2400 * time.Millisecond)
		if off := o.Heard(120 * clickEvery).Sub(said); off.Abs() > 2*time.Millisecond {
			t.Errorf("coming back has moved Heard by %v ms", ms(off))
		}
		starts := rec.Starts(200 * time.Millisecond)
		if len(starts) < 4 {
			t.Fatalf("%d clicks after the sound is back, want 4 or 5", len(starts))
		}
		compare(t, o, starts[1:]) // the first may be the rest of one
		never(t, lost)
	}
}

// A stream moved to another device and back keeps its place.
func TestMoved(t *testing.T) {
	s := outtest.Start(t)
	s.Control(t, "load-module", "module-null-sink", "sink_name=other", "rate=48000")
	rec := s.Record(t)
	o, lost, _ := open(t, s)
	o.Play(clicks(60))
	time.Sleep(1200 * time.Millisecond)
	id := strings.Fields(s.Control(t, "list", "short", "sink-inputs"))[0]
	s.Control(t, "move-sink-input", id, "other")
	time.Sleep(1000 * time.Millisecond)
	s.Control(t, "move-sink-input", id, "test")
	time.Sleep(2000 * time.Millisecond)
	got := compare(t, o, rec.Starts(200 * time.Millisecond)[1:])
	if want := []int{1, 2, 5, 6, 7, 8}; !slices.Equal(got, want) {
		t.Errorf("clicks %v, want %v", got, want)
	}
	never(t, lost)
}

// Sound paused while the server is away is simply there when it is wanted.
func TestServerDiesInPause(t *testing.T) {
	s := outtest.Start(t)
	o, lost, back := open(t, s)
	o.Play(tone(60))
	time.Sleep(300 * time.Millisecond)
	o.Hush()
	s.Kill()
	within(t, lost, time.Second, "lost")
	s.Restart(t)
	within(t, back, 2*time.Second, "back")
	rec := s.Record(t)
	going := time.Now()
	o.Play(clicks(1))
	time.Sleep(time.Second)
	starts := rec.Starts(100 * time.Millisecond)
	if len(starts) != 2 || starts[0].Sub(going) > 20*time.Millisecond {
		t.Errorf("clicks at %v after Play at %v", starts, going)
	}
	compare(t, o, starts[1:])
}

// Play while the server is away is joined where it is due.
func TestPlayWithoutServer(t *testing.T) {
	s := outtest.Start(t)
	o, lost, back := open(t, s)
	s.Kill()
	within(t, lost, time.Second, "lost")
	o.Play(clicks(60))
	time.Sleep(500 * time.Millisecond)
	s.Restart(t)
	rec := s.Record(t)
	within(t, back, 3*time.Second, "back")
	time.Sleep(2700 * time.Millisecond)
	if got := compare(t, o, rec.Starts(200 * time.Millisecond)[1:]); len(got) < 3 {
		t.Errorf("clicks %v", got)
	}
}

func TestClose(t *testing.T) {
	s := outtest.Start(t)
	s.Record(t) // else the sink begins up to 2 s later
	goroutines := runtime.NumGoroutine()
	for _, hung := range []bool{false, true} {
		o, _, _ := open(t, s)
		o.Play(tone(60))
		time.Sleep(100 * time.Millisecond)
		if hung {
			s.Signal(syscall.SIGSTOP)
		}
		began := time.Now()
		for range 2 {
			if err := o.Close(); err != nil {
				t.Error(err)
			}
		}
		if d := time.Since(began); d > 2*closeGrace {
			t.Errorf("Close took %v", d)
		}
		o.Play(tone(1))
		if d := time.Until(o.Heard(int(sounds.SampleRate))); d < 500*time.Millisecond || d > time.Second {
			t.Errorf("closed, Heard says in %v, want the stream played last to go on", d)
		}
	}
	time.Sleep(100 * time.Millisecond)
	if n := runtime.NumGoroutine(); n > goroutines {
		t.Errorf("%d goroutines are left of %d", n, goroutines)
	}
}

// A server that takes the call but says nothing.
func TestOpenMuteServer(t *testing.T) {
	sock := filepath.Join(t.TempDir(), "mute")
	mute, err := net.Listen("unix", sock)
	if err != nil {
		t.Fatal(err)
	}
	defer mute.Close()
	t.Setenv("PULSE_SERVER", "unix:"+sock)
	began := time.Now()
	o, err := Open("pulse", nil)
	if d := time.Since(began); d > 3*time.Second {
		t.Errorf("it took %v to give up a mute server", d)
	}
	if err == nil || o.Name() != "off" {
		t.Errorf("output %q, error %v", o.Name(), err)
	}
	t.Log(err)
}
