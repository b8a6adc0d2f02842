//go:build linux

package out

import (
	"bytes"
	"errors"
	"fmt"
	"io"
	"math"
	"os"
	"os/signal"
	"path/filepath"
	"runtime"
	"strconv"
	"strings"
	"syscall"
	"testing"
	"time"

	"glidepace/sounds"
)

// In place of aplay the tests run this very program under that name.
func TestMain(m *testing.M) {
	if filepath.Base(os.Args[0]) == "aplay" {
		os.Exit(playFake(os.Getenv("FAKE_APLAY")))
	}
	os.Exit(m.Run())
}

// playFake behaves as aplay does, at a steady rate and into a file of dir. The
// first process is number 0. The file "conduct" says how the next one is to
// behave: play; refuse, to open the device; hang, without reading anything or
// heeding SIGTERM; or a number of frames after which to die.
func playFake(dir string) int {
	began := time.Now()
	// Read the conduct before making the file that shows this process runs.
	conduct, err := os.ReadFile(filepath.Join(dir, "conduct"))
	if err != nil {
		fmt.Fprintln(os.Stderr, err)
		return 2
	}
	var heard *os.File
	n := 0
	for {
		if heard, err = os.OpenFile(rawFile(dir, n), os.O_CREATE|os.O_EXCL|os.O_WRONLY, 0o600); err == nil {
			break
		}
		if !errors.Is(err, os.ErrExist) {
			fmt.Fprintln(os.Stderr, err)
			return 2
		}
		n++
	}
	tell := func(what, text string) {
		os.WriteFile(filepath.Join(dir, strconv.Itoa(n)+"."+what), []byte(text), 0o600)
	}
	tell("args", strings.Join(os.Args, " "))
	if string(conduct) == "refuse" {
		fmt.Fprint(os.Stderr, "ALSA lib confmisc.c:855:(parse_card) cannot find card '0'\n"+
			"aplay: main:831: audio open error: No such file or directory\n")
		return 1
	}
	if string(conduct) == "hang" {
		signal.Ignore(syscall.SIGTERM)
		time.Sleep(time.Minute)
		return 1
	}
	terminated := make(chan os.Signal, 1)
	signal.Notify(terminated, syscall.SIGTERM)
	go func() {
		<-terminated
		tell("end", "SIGTERM")
		os.Exit(1)
	}()
	die, _ := strconv.Atoi(string(conduct))
	period := make([]byte, periodFrames*bytesPerFrame)
	for read := 0; ; {
		k, err := io.ReadFull(os.Stdin, period)
		heard.Write(period[:k])
		read += k / bytesPerFrame
		if err != nil {
			time.Sleep(time.Until(began.Add(sounds.SampleRate.D(read)))) // the device plays the rest
			tell("end", "EOF")
			return 0
		}
		if die > 0 && read >= die {
			fmt.Fprint(os.Stderr, "underrun!!! (at least 12.345 ms long)\n")
			fmt.Fprint(os.Stderr, "aplay: pcm_write:2127: write error: No such device\n")
			return 1
		}
		time.Sleep(time.Until(began.Add(sounds.SampleRate.D(read - bufferFrames))))
	}
}

func rawFile(dir string, n int) string { return filepath.Join(dir, strconv.Itoa(n)+".raw") }

// A fakeAplay is what the test sees of the processes.
type fakeAplay struct {
	t   *testing.T
	dir string
}

// fake makes the fake aplay the only one on the path.
func fake(t *testing.T, conduct string) fakeAplay {
	t.Helper()
	self, err := os.Executable()
	if err != nil {
		t.Fatal(err)
	}
	bin := t.TempDir()
	if err := os.Symlink(self, filepath.Join(bin, "aplay")); err != nil {
		t.Fatal(err)
	}
	f := fakeAplay{t, t.TempDir()}
	t.Setenv("PATH", bin)
	t.Setenv("FAKE_APLAY", f.dir)
	f.conduct(conduct)
	return f
}

func (f fakeAplay) conduct(how string) {
	if err := os.WriteFile(filepath.Join(f.dir, "conduct"), []byte(how), 0o600); err != nil {
		f.t.Fatal(err)
	}
}

// open opens the output and fails the test for goroutines left at its end.
func (f fakeAplay) open() (o *aplay, changes chan change) {
	f.t.Helper()
	goroutines := runtime.NumGoroutine()
	changes = make(chan change, 10)
	opened, err := Open("aplay", func(err error) { changes <- change{err, time.Now()} })
	if err != nil {
		f.t.Fatal(err)
	}
	f.t.Cleanup(func() {
		for range 2 {
			if err := opened.Close(); err != nil {
				f.t.Error(err)
			}
		}
		f.until("all goroutines to end", func() bool { return runtime.NumGoroutine() <= goroutines })
		select {
		case c := <-changes:
			f.t.Errorf("it reported %v", c.err)
		default:
		}
	})
	return opened.(*aplay), changes
}

func (f fakeAplay) until(what string, ok func() bool) {
	f.t.Helper()
	for end := time.Now().Add(20 * time.Second); !ok(); time.Sleep(2 * time.Millisecond) {
		if time.Now().After(end) {
			f.t.Fatalf("no sign of %s", what)
		}
	}
}

// A change is what the output reported, and when.
type change struct {
	err error
	at  time.Time
}

func (f fakeAplay) change(changes <-chan change) change {
	f.t.Helper()
	select {
	case c := <-changes:
		return c
	case <-time.After(20 * time.Second):
		f.t.Fatal("no sign of a change")
		return change{}
	}
}

// raw returns what process n has been sent so far, nil before it began.
func (f fakeAplay) raw(n int) []byte {
	b, _ := os.ReadFile(rawFile(f.dir, n))
	return b
}

// end waits for a process to end by itself or for SIGTERM, and returns which.
func (f fakeAplay) end(n int) string {
	f.t.Helper()
	var b []byte
	f.until("a process to end", func() bool {
		b, _ = os.ReadFile(filepath.Join(f.dir, strconv.Itoa(n)+".end"))
		return len(b) > 0
	})
	return string(b)
}

// samples is what counting is as frames from to to.
func samples(from, to int) []byte {
	fs := make([][2]float64, to-from)
	(&counting{at: from, length: to}).Stream(fs)
	return pack(nil, fs)
}

// All of a stream goes to aplay, bit for bit, and the next one too.
func TestAplay(t *testing.T) {
	f := fake(t, "play")
	o, _ := f.open()
	if o.Name() != "aplay" {
		t.Errorf("the output is %q", o.Name())
	}
	for n := 1; n <= 2; n++ { // 0 was the probe
		length := 10007 * n
		o.Play(&counting{length: length})
		f.until("the end", func() bool { play, _ := o.wanted(); return play == 0 })
		if got := f.end(n); got != "EOF" {
			t.Errorf("process %d had its end from %s", n, got)
		}
		if got := f.raw(n); !bytes.Equal(got, samples(0, length)) {
			t.Errorf("process %d had %d bytes, want the %d of the stream", n, len(got), 4*length)
		}
	}
	args, err := os.ReadFile(filepath.Join(f.dir, "1.args"))
	if want := "aplay -q -t raw -f S16_LE -r 48000 -c 2 --buffer-time=100000 --period-time=25000 -"; string(args) != want {
		t.Errorf("it ran %q (%v), want %q", args, err, want)
	}
}

// Hush and Play end the process; the next one begins with the first frame.
func TestAplayHush(t *testing.T) {
	f := fake(t, "play")
	o, _ := f.open()
	playing := func(n int) {
		t.Helper()
		f.until("sound", func() bool { return len(f.raw(n)) > 50000 })
		got := f.raw(n)
		if !bytes.Equal(got, samples(0, len(got)/bytesPerFrame)) {
			t.Errorf("process %d was not sent the stream from its start", n)
		}
	}
	o.Play(&counting{length: 1e6})
	playing(1)
	o.Hush()
	if got := f.end(1); got != "SIGTERM" {
		t.Errorf("Hush had it end by %s", got)
	}
	o.Play(&counting{length: 1e6})
	playing(2)
	f.conduct("hang")
	o.Play(&counting{length: 1e6})
	if got := f.end(2); got != "SIGTERM" {
		t.Errorf("Play had it end by %s", got)
	}
	f.until("the next process", func() bool { return f.raw(3) != nil })
	f.conduct("play")
	o.Play(&counting{length: 1e6}) // 3 heeds nothing but SIGKILL
	playing(4)
	o.Close()
	if got := f.end(4); got != "SIGTERM" {
		t.Errorf("Close had it end by %s", got)
	}
}

// An aplay that dies or hangs is followed by one that goes on where it is due.
func TestAplayDies(t *testing.T) {
	for conduct, want := range map[string]string{
		"24000": "aplay has ended: write error: No such device",
		"hang":  "aplay takes no more sound",
	} {
		t.Run(conduct, func(t *testing.T) {
			f := fake(t, "play")
			o, changes := f.open()
			f.conduct(conduct)
			o.Play(&counting{length: 1e7})
			f.until("the process", func() bool { return f.raw(1) != nil })
			f.conduct("play")
			if c := f.change(changes); c.err == nil || c.err.Error() != want {
				t.Errorf("it reported %v, want %s", c.err, want)
			}
			start := o.Heard(0)
			back := f.change(changes)
			if back.err != nil {
				t.Errorf("it reported %v, want that sound is back", back.err)
			}
			heard := int(back.at.Sub(start).Seconds() * float64(sounds.SampleRate)) // was due then
			var sound []byte
			f.until("sound", func() bool {
				sound = f.raw(3)
				for bytes.HasPrefix(sound, make([]byte, bytesPerFrame)) { // silence
					sound = sound[bytesPerFrame:]
				}
				return len(sound) > 50000
			})
			low := func(i int) int { return int(sound[i]) | int(sound[i+1])<<8 }
			from := low(0) - 1 + 30000*low(2)
			if !bytes.Equal(sound, samples(from, from+len(sound)/bytesPerFrame)) {
				t.Errorf("from frame %d it did not go on", from)
			}
			ahead := from - heard
			t.Logf("back at frame %d, %d ahead of what was due then", from, ahead)
			// It is to be ahead by the pipe, the buffer and a period. The pause
			// alone is 48,000 frames; half of that is for a busy machine.
			if ahead < -24000 || ahead > 24000 {
				t.Errorf("back at frame %d, where %d was due", from, heard)
			}
		})
	}
}

// Without a sound server aplay is used. Without either, the error is one line with
// the causes and the cures.
func TestAplayOpen(t *testing.T) {
	f := fake(t, "play")
	t.Setenv("PULSE_SERVER", "unix:"+t.TempDir()+"/none")
	o, err := Open("auto", nil)
	if err != nil || o.Name() != "aplay" {
		t.Errorf("without a sound server the output is %q, error %v", o.Name(), err)
	}
	o.Close()
	f.conduct("refuse")
	check := func(way string, want ...string) {
		t.Helper()
		o, err := Open(way, nil)
		if err == nil || o.Name() != "off" {
			t.Fatalf("%s: output %q, error %v", way, o.Name(), err)
		}
		if strings.Contains(err.Error(), "\n") {
			t.Errorf("%s: not one line: %v", way, err)
		}
		for _, w := range want {
			if !strings.Contains(err.Error(), w) {
				t.Errorf("%s: %v; want %q in it", way, err, w)
			}
		}
	}
	check("aplay", "no sound from aplay: cannot find card '0' (")
	check("auto", "/none: connect: no such file", "start PulseAudio or PipeWire", "nor from aplay: cannot find card '0' (")
	t.Setenv("PATH", t.TempDir())
	check("aplay", "no sound from aplay: it is not installed", "alsa-utils")
	check("auto", "/none: connect: no such file", "nor from aplay: it is not installed")
}

// The position of an aplay that plays frame 0 at once, from the ends of writes
// alone. It takes whole pages of 1,024 frames from the pipe, and gives the device
// a period of 1,200 frames, of which 4 wait there, whenever one has been played.
// Heard follows within a second after the device has run dry.
func TestAplayFollow(t *testing.T) {
	for _, ppm := range []float64{50, -50, 0} {
		d := device{start: time.Now(), ppm: ppm}
		r := random()
		o := &aplay{}
		o.plays = 1
		p := &process{held: 1024 + 4800 + 1200}
		f := &feed{play: 1}
		worst, gap := 0.0, 0.0 // gap is when the device last stood still
		for s := 0.0; s < 900; {
			f.sent += 1024
			read := (f.sent - 1024 + 1199) / 1200 // periods, when that has been written
			played := float64(1200 * (read - 5))  // 4 wait, 1 is read
			now := d.heard(max(0, played)).Add(time.Duration(0.0003 * r.ExpFloat64() * 1e9))
			s = played / d.rate()
			if s > 300 && gap == 0 { // without a word
				gap = s
				d.start = d.start.Add(40 * time.Millisecond)
				continue
			}
			o.follow(p, f, now)
			if s < 0.1 || gap > 0 && s < gap+1 {
				continue
			}
			off := o.Heard(int(s*48000)).Sub(d.heard(s*48000)).Seconds() * 1000
			if math.Abs(off) > 2 || s > 60 && math.Abs(off) > 0.6 && s > gap+20 {
				t.Fatalf("%v ppm, after %.1f s: %.2f ms off", ppm, s, off)
			}
			worst = max(worst, math.Abs(off))
		}
		t.Logf("%v ppm: %.2f ms off at worst", ppm, worst)
	}
}
