package boxrun

import (
	"bytes"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"slices"
	"sync"
	"sync/atomic"
	"time"

	"github.com/coreos/go-systemd/v22/journal"

	"glidepace/devices/box"
	"glidepace/devices/box/loan"
	"glidepace/devices/button"
	"glidepace/devices/buzzer"
	"glidepace/devices/gpio"
	"glidepace/devices/light"
	"glidepace/pacer"
)

// boxPins is what a box is wired to.
type boxPins struct {
	buzzer buzzer.Switch
	light  light.Pin
	button button.Pin
	life   pulse // of who watches the button
	open   []io.Closer
}

func openBoxPins(b *box.File) (_ *boxPins, err error) {
	p := &boxPins{}
	defer func() {
		if err != nil {
			p.close()
		}
	}()
	buzz, err := openPart(p, "buzzer", b.Buzzer, gpio.OpenOutput)
	if err != nil {
		return nil, err
	}
	lamp, err := openPart(p, "light", b.Light, gpio.OpenOutput)
	if err != nil {
		return nil, err
	}
	push, err := openPart(p, "button", b.Button, func(name string) (*gpio.Input, error) { return gpio.OpenInput(name, true) })
	if err != nil {
		return nil, err
	}
	push.Looked = p.life.beat
	p.buzzer, p.light, p.button = buzz, lamp, push
	return p, nil
}

func openPart[T io.Closer](p *boxPins, part, pin string, open func(string) (T, error)) (T, error) {
	o, err := open(pin)
	if err != nil {
		return o, fmt.Errorf("%s: %w", part, err)
	}
	p.open = append(p.open, o)
	return o, nil
}

// close switches all pins off and lets go of them.
func (p *boxPins) close() {
	for _, o := range p.open {
		o.Close()
	}
}

// SwitchOff switches the buzzer and the light of a box off, whatever held their
// pins before. One that cannot be switched off does not keep the other from it.
func SwitchOff(b *box.File) error {
	return switchOff(b, func(pin string) (io.Closer, error) { return gpio.OpenOutput(pin) })
}

func switchOff(b *box.File, open func(pin string) (io.Closer, error)) error {
	var errs []error
	for _, p := range []struct{ part, pin string }{{"buzzer", b.Buzzer}, {"light", b.Light}} {
		o, err := open(p.pin) // which switches it off
		if err == nil {
			err = o.Close()
		}
		if err != nil {
			errs = append(errs, fmt.Errorf("%s: %w", p.part, err))
		}
	}
	return errors.Join(errs...)
}

// boxLight shows a state, and trouble while the button is stuck.
type boxLight struct {
	light *light.Light

	mu      sync.Mutex
	state   light.State
	pressed bool // for far too long
}

var _ pacer.Follower = (*boxLight)(nil)

func (l *boxLight) set(s light.State) { l.change(func() { l.state = s }) }

func (l *boxLight) stuck(yes bool) { l.change(func() { l.pressed = yes }) }

func (l *boxLight) change(how func()) {
	l.mu.Lock()
	defer l.mu.Unlock()
	how()
	if l.pressed {
		l.light.Set(light.Trouble)
	} else {
		l.light.Set(l.state)
	}
}

// Follow implements pacer.Follower.
func (l *boxLight) Follow(e pacer.Event) {
	switch e.Kind {
	case pacer.Began:
		l.set(light.Running)
	case pacer.Stopped:
		l.set(light.Stopped)
	}
}

// pulse is when somebody was last seen at work.
type pulse struct{ last atomic.Int64 }

func (p *pulse) beat() { p.last.Store(int64(time.Since(processStart))) }

func (p *pulse) beats() bool { return p.last.Load() != 0 }

// within reports whether the last beat is no longer ago than d.
func (p *pulse) within(d time.Duration) bool {
	return time.Since(processStart)-time.Duration(p.last.Load()) <= d
}

var processStart = time.Now() // a moment with a monotonic reading

// beating is a sound that shows that the conductor asks it: it does so ten times
// a second while a session runs.
type beating struct {
	pacer.Sound
	life *pulse
}

func (b beating) Heard(d time.Duration) time.Time {
	b.life.beat()
	return b.Sound.Heard(d)
}

// boxNews logs what happens in a session but for its steps and repetitions:
// these are logged when they are recorded.
type boxNews struct {
	log     *boxLog
	running *atomic.Bool
}

// Follow implements pacer.Follower.
func (n boxNews) Follow(e pacer.Event) {
	switch e.Kind {
	case pacer.Began, pacer.Stopped, pacer.Ended:
		n.running.Store(e.Kind == pacer.Began)
	}
	switch e.Kind {
	case pacer.Began:
		n.log.say("running")
	case pacer.Paused:
		n.log.say("the program stood still; the session goes on")
	case pacer.Stopped:
		n.log.say("stopped")
	case pacer.Answered:
		if e.Answer == pacer.WarningSign {
			n.log.say("a neck glide was paced: this counts as a warning sign")
			return
		}
		n.log.say("after %v: %s", e.After.Round(time.Second), e.Answer)
	}
}

// boxLog writes lines for a journal: of an entry each, and, where the journal
// reads them, with their level before them (sd-daemon(3)).
type boxLog struct {
	w      io.Writer
	levels bool

	mu sync.Mutex
}

func newBoxLog(w io.Writer) *boxLog {
	levels, err := journal.StderrIsJournalStream()
	return &boxLog{w: w, levels: levels && err == nil}
}

const (
	levelWarning = 4
	levelInfo    = 6
)

func (l *boxLog) say(format string, args ...any) { l.line(levelInfo, fmt.Sprintf(format, args...)) }
func (l *boxLog) trouble(format string, args ...any) {
	l.line(levelWarning, fmt.Sprintf(format, args...))
}

// Write implements io.Writer, for what is trouble.
func (l *boxLog) Write(text []byte) (int, error) {
	l.line(levelWarning, string(bytes.TrimSpace(text)))
	return len(text), nil
}

func (l *boxLog) line(level int, text string) {
	l.mu.Lock()
	defer l.mu.Unlock()
	for line := range bytes.Lines([]byte(text)) {
		if l.levels {
			fmt.Fprintf(l.w, "<%d>", level)
		}
		fmt.Fprintf(l.w, "%s\n", bytes.TrimRight(line, "\r\n"))
	}
}

// boxClock is what a board knows of the time.
type boxClock struct {
	wall      time.Time   // by the system's clock, right or not
	board     []time.Time // by the board's own clocks
	bootID    string
	sinceBoot time.Duration
}

// believed reports whether the system's clock can be right: it is not before a
// moment that has been, and a clock of the board's says the same, to a minute.
// A clock whose battery is empty begins long ago.
func (c boxClock) believed(notBefore time.Time) bool {
	return !c.wall.Before(notBefore) && slices.ContainsFunc(c.board, func(t time.Time) bool {
		return c.wall.Sub(t).Abs() <= time.Minute
	})
}

func systemClock() boxClock {
	wall, board, _ := ReadClocks()
	c := boxClock{wall: wall, board: board}
	if id, err := os.ReadFile("/proc/sys/kernel/random/boot_id"); err == nil {
		c.bootID = string(bytes.TrimSpace(id))
	}
	if text, err := os.ReadFile("/proc/uptime"); err == nil {
		var seconds float64
		if _, err := fmt.Sscan(string(text), &seconds); err == nil {
			c.sinceBoot = time.Duration(seconds * float64(time.Second))
		}
	}
	return c
}

// ReadClocks reads the board's clocks from where the kernel shows them to
// everybody.
func ReadClocks() (system time.Time, board []time.Time, err error) {
	names, err := filepath.Glob("/sys/class/rtc/rtc*/since_epoch")
	if err != nil {
		return system, nil, err
	}
	for _, name := range names {
		text, failed := os.ReadFile(name)
		var seconds int64
		if failed == nil {
			_, failed = fmt.Sscan(string(text), &seconds)
		}
		if failed != nil { // such as a clock that was never set
			err = errors.Join(err, failed)
			continue
		}
		board = append(board, time.Unix(seconds, 0))
	}
	if len(board) > 0 {
		err = nil
	}
	return time.Now(), board, err
}

// loanOn returns the loan of a card, the zero loan where it has no record. The
// error says that the card is not loaded to its end.
func loanOn(folder string) (*loan.Record, error) {
	record, err := loan.Read(folder)
	switch {
	case err != nil:
		return nil, err
	case record == nil:
		return &loan.Record{}, nil
	case record.Loading:
		return nil, errors.New("the card was not loaded to its end: load it again (glidepace box load)")
	}
	return record, nil
}
