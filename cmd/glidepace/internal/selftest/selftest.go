// Package selftest tests the parts of a box one by one: by itself, or with a
// person who confirms what can only be felt, seen or heard.
package selftest

import (
	"context"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"strings"
	"time"

	"glidepace/cmd/glidepace/internal/boxrun"
	"glidepace/devices/box"
	"glidepace/devices/button"
	"glidepace/devices/buzzer"
	"glidepace/devices/gpio"
	"glidepace/devices/light"
	"glidepace/pacer"
	"glidepace/sessions"
	"glidepace/sounds"
	"glidepace/sounds/out"
)

// Finding is what a test found of one part.
type Finding struct {
	Part  string `json:"part"`
	OK    bool   `json:"ok"`
	Found string `json:"found"`
	Cure  string `json:"cure,omitempty"`
}

// Person is somebody beside the box.
type Person struct {
	Ask func(question string) (answer string, err error)
	Say func(text string)
}

// Run tests all parts of a box, until ctx is done. If a part fails, the others are
// still tested. At the end all are off. folder is the folder of the box file. Without
// a person, p is nil.
func Run(ctx context.Context, b *box.File, folder string, p *Person) []Finding {
	t := &selfTest{box: b, folder: folder, parts: realParts, person: p}
	t.run(ctx)
	return t.found
}

type selfTest struct {
	box    *box.File
	folder string
	parts
	person *Person
	found  []Finding
}

// parts opens what a box is made of.
type parts struct {
	output func(pin string) (outputPin, error)
	input  func(pin string) (inputPin, error)
	sound  func(way string) (out.Output, error)
	clocks func() (system time.Time, board []time.Time, err error)
	// keepsPins returns the kernel's settings that are on and keep a pin as it was
	// when no program holds it any more.
	keepsPins func() ([]string, error)
}

type outputPin interface {
	Set(on bool) error
	Close() error
}

type inputPin interface {
	Read() (high bool, err error)
	Close() error
}

var realParts = parts{
	output: func(pin string) (outputPin, error) { return gpio.OpenOutput(pin) },
	input:  func(pin string) (inputPin, error) { return gpio.OpenInput(pin, true) },
	sound:  func(way string) (out.Output, error) { return out.Open(way, nil) },
	clocks: boxrun.Clocks,
	keepsPins: func() ([]string, error) {
		return switchedOn("/sys/module/pinctrl_*/parameters/persist_gpio_outputs")
	},
}

func (t *selfTest) run(ctx context.Context) {
	for _, test := range []func(context.Context){t.testBuzzer, t.testLight, t.testKernel, t.testButton, t.testSound, t.testClock, t.testFolder} {
		if ctx.Err() == nil {
			test(ctx)
		}
	}
}

func (t *selfTest) ok(part, format string, args ...any) {
	t.found = append(t.found, Finding{Part: part, OK: true, Found: fmt.Sprintf(format, args...)})
}

func (t *selfTest) failed(part, cure, format string, args ...any) {
	t.found = append(t.found, Finding{part, false, fmt.Sprintf(format, args...), cure})
}

// confirm plays what it asks about, and asks until the answer is yes or no.
func (t *selfTest) confirm(ctx context.Context, part, cure, what string, play func()) {
	for ctx.Err() == nil {
		play()
		answer, err := t.person.Ask(what + "? y, n, or r for again: ")
		switch {
		case ctx.Err() != nil:
		case err != nil:
			t.failed(part, "Run the test again", "%s: not answered", what)
			return
		case strings.EqualFold(answer, "y"):
			t.ok(part, "%s: confirmed", what)
			return
		case strings.EqualFold(answer, "n"):
			t.failed(part, cure, "%s: not confirmed", what)
			return
		}
	}
}

const (
	pinCure    = "If the box's service is running, it holds the pins: systemctl stop glidepace-box"
	buzzerCure = "Check motor, transistor and diode by the table, and the strap; is there power on the 3.3 V wire?"
	lightCure  = "Check the LED's direction, its resistor and its pin by the table"
	buttonCure = "Check the button and its two wires by the table; is something lying on it?"
	soundCure  = "Plug a loudspeaker in and turn it up; is the user in the group audio? For a box without a loudspeaker, write sound: off into its box file"
)

// testOutput tests a part that a pin switches. use drives the pin, tells of
// trouble with it, and lets go of it before it returns.
func (t *selfTest) testOutput(part, name, cure string, use func(pin outputPin, trouble func(error)) error) {
	pin, err := t.output(name)
	if err != nil {
		t.failed(part, pinCure, "%v", err)
		return
	}
	defer pin.Close()
	troubles := make(chan error, 1)
	err = use(pin, func(err error) {
		select {
		case troubles <- err:
		default: // the first one will do
		}
	})
	select {
	case err = <-troubles:
	default:
	}
	switch {
	case err != nil:
		t.failed(part, cure, "%v", err)
	case t.person == nil:
		t.ok(part, "switched on and off")
	}
}

// restAfter is how long a motor takes to come to rest, so that the next pattern
// is felt by itself.
const restAfter = 300 * time.Millisecond

func (t *selfTest) testBuzzer(ctx context.Context) {
	part := "buzzer, " + t.box.Buzzer
	t.testOutput(part, t.box.Buzzer, buzzerCure, func(pin outputPin, trouble func(error)) error {
		b := buzzer.New(buzzer.NewPinMotor(pin, t.box.Lead), t.box.Lead, trouble)
		defer b.Close()
		play := func(p buzzer.Pattern) {
			b.Play(p)
			boxrun.Wait(ctx, p.Length()+restAfter)
		}
		if t.person == nil {
			play(buzzer.Turn)
			return b.Close()
		}
		t.person.Say("Strap the buzzer on as a patient wears it.")
		for _, p := range buzzer.Patterns() {
			t.confirm(ctx, part, buzzerCure, fmt.Sprintf("Buzz %q, %s", p.Name, p.Feel), func() { play(p) })
		}
		return b.Close()
	})
}

func (t *selfTest) testLight(ctx context.Context) {
	part := "light, " + t.box.Light
	t.testOutput(part, t.box.Light, lightCure, func(pin outputPin, trouble func(error)) error {
		l := light.New(pin, trouble)
		defer l.Close()
		if t.person == nil {
			l.Set(light.Stopped) // evenly on and off
			boxrun.Wait(ctx, time.Second)
			return nil
		}
		for _, s := range []light.State{light.Ready, light.Running, light.Stopped, light.Asking, light.Trouble} {
			t.confirm(ctx, part, lightCure, fmt.Sprintf("Light %q, %s", s, s.Looks()), func() { l.Set(s) })
		}
		return nil
	})
}

// testKernel tests whether the motor would stay on if the program was killed in
// the middle of a buzz.
func (t *selfTest) testKernel(context.Context) {
	const part = "pins of a killed program"
	on, err := t.keepsPins()
	switch {
	case err != nil:
		t.failed(part, "Run the test on the board, with /sys mounted", "%v", err)
	case len(on) > 0:
		t.failed(part, "Add the words of glidepace box service --part cmdline to the one line of /boot/firmware/cmdline.txt and restart the board; "+
			"a buzz that does not stop is ended by glidepace box off BOX.yaml, or by unplugging",
			"the kernel keeps them as they were, so the motor may stay on (%s)", strings.Join(on, ", "))
	default:
		t.ok(part, "the kernel is not set to keep them on; only the board can show that the motor stops")
	}
}

// switchedOn returns those kernel parameters of yes or no that are on.
func switchedOn(pattern string) (on []string, err error) {
	names, err := filepath.Glob(pattern)
	if err != nil {
		return nil, err
	}
	for _, name := range names {
		text, err := os.ReadFile(name)
		if err != nil {
			return nil, err
		}
		if v := strings.TrimSpace(string(text)); v != "N" && v != "0" {
			on = append(on, name+" is "+v)
		}
	}
	return on, nil
}

const (
	pressWithin = 10 * time.Second
	pollEvery   = 5 * time.Millisecond
)

func (t *selfTest) testButton(ctx context.Context) {
	part := "button, " + t.box.Button
	pin, err := t.input(t.box.Button)
	if err != nil {
		t.failed(part, pinCure, "%v", err)
		return
	}
	defer pin.Close()
	high, err := pin.Read()
	switch {
	case err != nil:
		t.failed(part, pinCure, "%v", err)
		return
	case !high:
		t.failed(part, buttonCure, "it reads as pressed, although nobody was asked to press it")
		return
	case t.person == nil:
		t.ok(part, "it can be read, and is not pressed")
		return
	}
	t.person.Say("Press the button within 10 seconds, and let it go.")
	var d button.Debounce
	pressed := false
	for limit := time.Now().Add(pressWithin); ctx.Err() == nil; boxrun.Wait(ctx, pollEvery) {
		high, err := pin.Read()
		if err != nil {
			t.failed(part, pinCure, "%v", err)
			return
		}
		for _, p := range d.Level(time.Now(), !high) {
			switch p.Kind {
			case button.Down:
				pressed = true
				t.person.Say("Pressed.")
			case button.Short, button.Long:
				t.person.Say("Released.")
				t.ok(part, "pressed, and released after %.1f s", p.At.Sub(p.Began).Seconds())
				return
			case button.Stuck:
				t.failed(part, buttonCure, "pressed, and not released for %v", button.StuckAfter)
				return
			}
		}
		if !pressed && time.Now().After(limit) {
			t.failed(part, buttonCure, "no press within %v", pressWithin)
			return
		}
	}
}

// testBreath is a second of the inhale's tone and two of the exhale's.
var testBreath = sessions.Breath{Rate: 20, Ratio: sessions.Ratio{Inhale: 1, Exhale: 2}}

func (t *selfTest) testSound(ctx context.Context) {
	if t.box.Sound == "off" {
		t.ok("sound", "off, as the box file says")
		return
	}
	o, err := t.sound(t.box.Sound)
	if err != nil {
		t.failed("sound", soundCure, "%v", err)
		return
	}
	defer o.Close()
	if t.person == nil {
		t.ok("sound", "there is a way out, %s", o.Name())
		return
	}
	timeline, err := pacer.AtRest(testBreath, 1)
	if err != nil {
		t.failed("sound", "", "%v", err)
		return
	}
	volume := sessions.DefaultSounds.Volume
	if t.box.Volume != nil {
		volume = *t.box.Volume
	}
	t.confirm(ctx, "sound", soundCure, "A short tone that rises, then a longer one that falls", func() {
		s := sounds.New(timeline, sounds.Settings{Parts: sessions.Parts{Tones: true}, Volume: volume})
		o.Play(s)
		boxrun.Wait(ctx, time.Until(o.Heard(s.Len())))
		o.Hush()
	})
}

// A clock that is right is between these: there was no box before the first.
var (
	clockFrom  = time.Date(2025, 1, 1, 0, 0, 0, 0, time.UTC)
	clockUntil = time.Date(2100, 1, 1, 0, 0, 0, 0, time.UTC)
)

func (t *selfTest) testClock(context.Context) {
	if !t.box.BatteryClock {
		t.ok("clock", "none fitted, as the box file says; sessions get no date")
		return
	}
	const cure = "Check the module's four wires and its battery, and the overlay in config.txt; with the right time on the system, hwclock --systohc sets it"
	system, board, err := t.clocks()
	if err != nil {
		t.failed("clock", cure, "%v", err)
		return
	}
	apart := time.Duration(-1)
	for _, b := range board {
		if d := system.Sub(b).Abs(); apart < 0 || d < apart {
			apart = d
		}
	}
	now := system.Format("2006-01-02 15:04:05 MST")
	switch {
	case len(board) == 0:
		t.failed("clock", cure, "the board has none, though the box file says clock: battery")
	case system.Before(clockFrom) || system.After(clockUntil):
		t.failed("clock", cure, "the system says %s", now)
	case apart > boxrun.ClocksApart:
		t.failed("clock", cure, "the system says %s, and the battery clock differs by %v", now, apart.Round(time.Second))
	default:
		t.ok("clock", "%s; the battery clock says the same", now)
	}
}

// diaryRoom is more than a diary needs in a loan.
const diaryRoom = 4 << 20

func (t *selfTest) testFolder(context.Context) {
	folder := filepath.Join(t.folder, filepath.Dir(filepath.FromSlash(t.box.Diary)))
	part := "diary's folder, " + folder
	err := writeRoom(folder)
	switch {
	case errors.Is(err, fs.ErrPermission):
		t.failed(part, "The folder must belong to the user that the box runs as; run the test as that user, on the box with sudo -u glidepace", "%v", err)
	case err != nil:
		t.failed(part, "Make room on the card; if it is read-only, mount it again, and if it turns read-only again take a new card", "%v", err)
	default:
		t.ok(part, "%d MB could be written there", diaryRoom>>20)
	}
}

// writeRoom writes a file of diaryRoom bytes to the card and removes it.
func writeRoom(folder string) (err error) {
	f, err := os.CreateTemp(folder, ".self-test-*")
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, f.Close(), os.Remove(f.Name())) }()
	if _, err := f.Write(make([]byte, diaryRoom)); err != nil {
		return err
	}
	return f.Sync()
}
