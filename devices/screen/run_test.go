package screen

import (
	"bytes"
	"context"
	"io"
	"strings"
	"sync"
	"sync/atomic"
	"testing"
	"testing/synctest"
	"time"

	tea "charm.land/bubbletea/v2"

	"glidepace/devices/screen/scene"
	"glidepace/pacer"
)

const (
	entersAlternateScreen = "\x1b[?1049h"
	leavesAlternateScreen = "\x1b[?1049l"
	showsCursor           = "\x1b[?25h"
)

// runningFull is a full screen on pipes that draws a glide.
func runningFull(t *testing.T, ctx context.Context, out io.Writer) (f *Full, keys *io.PipeWriter, commands chan pacer.Command, over chan error) {
	in, keys := io.Pipe()
	t.Cleanup(func() {
		keys.Close()
		time.Sleep(time.Minute) // frames that were asked for run out
	})
	commands = make(chan pacer.Command)
	f = NewFull(in, out, Style{}, commands)
	over = make(chan error, 1)
	go func() { over <- f.Run(ctx) }()
	tl := timeline(t, onExhale)
	glide := find(t, tl, func(s pacer.Step) bool { return s.Move == pacer.Glide })
	f.Follow(pacer.Event{Kind: pacer.Stepped, Timeline: tl, Step: glide, At: time.Now()})
	return f, keys, commands, over
}

func restored(t *testing.T, out string) {
	t.Helper()
	entered := strings.LastIndex(out, entersAlternateScreen)
	if entered < 0 {
		t.Error("the window was never taken: nothing was tested")
	}
	for _, code := range []string{leavesAlternateScreen, showsCursor} {
		if strings.LastIndex(out, code) < entered {
			t.Errorf("the window is not restored: %q is missing", code)
		}
	}
}

func TestFullScreenOutlivesItsKeys(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		var out bytes.Buffer
		ctx, cancel := context.WithCancel(t.Context())
		f, keys, commands, over := runningFull(t, ctx, &out)
		keys.Write([]byte(" "))
		if c := <-commands; c != pacer.Toggle {
			t.Errorf("space says %v", c)
		}
		keys.Write([]byte{3})
		if c := <-commands; c != pacer.Quit {
			t.Errorf("Ctrl-C says %v", c)
		}
		keys.Close() // the end of a pipe is not the end of the session
		time.Sleep(time.Second)
		select {
		case c := <-commands:
			t.Errorf("the end of the input says %v", c)
		case err := <-over:
			t.Fatalf("it ended before the session: %v", err)
		default:
		}
		cancel()
		if err := <-over; err != nil {
			t.Error(err)
		}
		f.Follow(pacer.Event{Kind: pacer.Ended}) // does not block
		restored(t, out.String())
	})
}

func TestFullScreenEndsWithItsContext(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		var out bytes.Buffer
		ctx, cancel := context.WithCancel(t.Context())
		_, keys, _, over := runningFull(t, ctx, &out)
		keys.Write([]byte("q")) // nobody listens to it
		synctest.Wait()
		cancel()
		if err := <-over; err != nil {
			t.Error(err)
		}
		restored(t, out.String())
	})
}

// A terminal that takes no output does not keep the program from ending.
func TestFullScreenOnAStuckTerminal(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		stuck := make(chan struct{})
		ctx, cancel := context.WithCancel(t.Context())
		f, _, _, over := runningFull(t, ctx, writer(func(b []byte) (int, error) {
			<-stuck
			return len(b), nil
		}))
		time.Sleep(time.Second)
		cancel()
		if err := <-over; err == nil || !strings.Contains(err.Error(), "takes no output") {
			t.Errorf("got %v", err)
		}
		f.Follow(pacer.Event{Kind: pacer.Ended}) // does not block
		close(stuck)
	})
}

// The last words are there at the last return, while the sound rings on: nobody
// is left with the arm up.
func TestLastWordsComeAtOnce(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		var out, lines synced
		ctx, cancel := context.WithCancel(t.Context())
		in, keys := io.Pipe()
		f := NewFull(in, &out, Style{}, make(chan pacer.Command))
		over := make(chan error, 1)
		go func() { over <- f.Run(ctx) }()
		synctest.Wait() // it has asked for the size of what is no window
		f.program.Send(tea.WindowSizeMsg{Width: 40, Height: 12})
		tl := timeline(t, onExhale)
		c := pacer.Conductor{Sound: &silence{}, Followers: []pacer.Follower{f, NewLines(&lines)}, Tail: 4 * time.Second}
		done := make(chan pacer.Result, 1)
		go func() { done <- c.Run(t.Context(), tl, nil) }()
		time.Sleep(pacer.Seconds(tl.Duration) - time.Millisecond)
		if strings.Contains(out.String(), "D O N E") {
			t.Error("done before the end")
		}
		time.Sleep(scene.Frame)
		if got := out.String(); !strings.Contains(got, "D O N E") || !strings.Contains(got, "Let the arm hang and loosen it.") {
			t.Error("the last words are not there")
		} else if strings.Contains(got, leavesAlternateScreen) {
			t.Error("the screen is left while the sound rings on")
		}
		if got := lines.String(); !strings.HasSuffix(got, "  done, let the arm hang and loosen it\n") {
			t.Errorf("the last lines are not there:\n%s", got)
		}
		<-done
		cancel()
		if err := <-over; err != nil {
			t.Error(err)
		}
		keys.Close()
		time.Sleep(time.Minute) // frames that were asked for run out
	})
}

// synced may be written and read by several goroutines.
type synced struct {
	mu sync.Mutex
	b  bytes.Buffer
}

func (s *synced) Write(b []byte) (int, error) {
	s.mu.Lock()
	defer s.mu.Unlock()
	return s.b.Write(b)
}

func (s *synced) String() string {
	s.mu.Lock()
	defer s.mu.Unlock()
	return s.b.String()
}

// silence is a sound whose moments are heard as they are due.
type silence struct{ began time.Time }

func (s *silence) Play(*pacer.Timeline)            { s.began = time.Now() }
func (s *silence) Hush()                           {}
func (s *silence) Heard(d time.Duration) time.Time { return s.began.Add(d) }

// The screen shows the keys that are not heard at first from the moment on in which
// the conductor hears them.
func TestKeysAreShownWhenTheyAreHeard(t *testing.T) {
	for name, c := range map[string]struct {
		before []pacer.Command // each a minute after the one before
		deaf   time.Duration
		key    pacer.Command
		heard  scene.Status
	}{
		"start":    {nil, pacer.DeafAtStart, pacer.Toggle, scene.Paused},
		"stop":     {[]pacer.Command{pacer.Stop}, pacer.DeafAfterStop, pacer.NoSymptoms, scene.Running},
		"going on": {[]pacer.Command{pacer.Stop, pacer.Toggle}, pacer.DeafWhenGoingOn, pacer.Toggle, scene.Paused},
	} {
		for _, early := range []time.Duration{0, 1} {
			synctest.Test(t, func(t *testing.T) {
				commands, shown := make(chan pacer.Command), &follower{}
				go func() {
					for _, said := range c.before {
						time.Sleep(time.Minute)
						commands <- said
					}
					time.Sleep(c.deaf - early)
					commands <- c.key
					synctest.Wait()
					shown.m.Now = time.Now()
					if heard := shown.m.Status == c.heard; heard == (early > 0) || heard == shown.m.Deaf() {
						t.Errorf("%s, a key %v early: heard %v, keys shown as deaf %v", name, early, heard, shown.m.Deaf())
					}
					commands <- pacer.Quit
				}()
				c := pacer.Conductor{Sound: &silence{}, Followers: []pacer.Follower{shown}}
				c.Run(t.Context(), timeline(t, onExhale), commands)
			})
		}
	}
}

// follower is a screen without a terminal.
type follower struct{ m model }

func (f *follower) Follow(e pacer.Event) {
	next, _ := f.m.follow(e)
	f.m = next.(model)
}

// Where keys are taken elsewhere it draws all the same.
func TestFullScreenWithoutKeys(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		var out synced
		f := NewFull(nil, &out, Style{}, nil)
		over := make(chan error, 1)
		ctx, cancel := context.WithCancel(t.Context())
		go func() { over <- f.Run(ctx) }()
		tl := timeline(t, onExhale)
		f.Follow(pacer.Event{Kind: pacer.Stepped, Timeline: tl, At: time.Now()})
		time.Sleep(time.Second)
		cancel()
		if err := <-over; err != nil {
			t.Error(err)
		}
		restored(t, out.String())
		time.Sleep(time.Minute) // frames that were asked for run out
	})
}

// haltingOutput is a terminal that takes nothing at times. It keeps what is
// written meanwhile.
type haltingOutput struct {
	synced
	stuck atomic.Bool
	again func()
}

func (o *haltingOutput) Stuck() bool     { return o.stuck.Load() }
func (o *haltingOutput) Again(do func()) { o.again = do }

// While the terminal takes nothing, nothing is drawn and keys are heard. After
// that the picture is that of the moment.
func TestFullScreenWhileTheTerminalIsStuck(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		var out haltingOutput
		ctx, cancel := context.WithCancel(t.Context())
		f, keys, commands, over := runningFull(t, ctx, &out)
		synctest.Wait() // it has asked for the size of what is no window
		f.program.Send(tea.WindowSizeMsg{Width: 80, Height: 24})
		time.Sleep(time.Second)
		out.stuck.Store(true)
		time.Sleep(time.Second) // what was seen before is drawn
		drawn := len(out.String())
		f.Follow(pacer.Event{Kind: pacer.Paused, At: time.Now()})
		keys.Write([]byte(" "))
		if c := <-commands; c != pacer.Toggle {
			t.Errorf("space says %v", c)
		}
		time.Sleep(time.Second)
		if len(out.String()) > drawn {
			t.Errorf("drawn while it was stuck: %q", out.String()[drawn:])
		}
		out.stuck.Store(false)
		out.again()
		time.Sleep(time.Second)
		if !strings.Contains(out.String()[drawn:], "Let the arm hang") {
			t.Errorf("drawn after it was stuck: %q", out.String()[drawn:])
		}
		cancel()
		if err := <-over; err != nil {
			t.Error(err)
		}
		restored(t, out.String())
	})
}
