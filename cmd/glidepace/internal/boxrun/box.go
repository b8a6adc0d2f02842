// Package boxrun is the program that a box runs on its own: it waits for the
// button, paces the session, and keeps the diary on the card.
package boxrun

import (
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"strings"
	"sync/atomic"
	"time"

	"github.com/coreos/go-systemd/v22/daemon"

	"glidepace/cmd/glidepace/internal/console"
	"glidepace/cmd/glidepace/internal/live"
	"glidepace/devices/box"
	"glidepace/devices/button"
	"glidepace/devices/buzzer"
	"glidepace/devices/light"
	"glidepace/pacer"
	"glidepace/sessions"
	"glidepace/sessions/diary"
	"glidepace/sessions/history"
	"glidepace/sessions/progress"
	"glidepace/sounds"
)

// Run waits for the button of a box and runs its sessions until ctx is done,
// or the button is gone. folder is that of the box file.
func Run(ctx context.Context, folder string, b *box.File, log io.Writer) error {
	pins, err := openBoxPins(b)
	if err != nil {
		return err
	}
	defer pins.close()
	r := &boxRun{folder: folder, box: b, log: newBoxLog(log), clock: systemClock}
	return r.run(ctx, pins)
}

// boxRun is a box at work.
type boxRun struct {
	folder string // of the box file
	box    *box.File
	log    *boxLog
	clock  func() boxClock

	button  *button.Button
	light   *boxLight
	buzzer  *buzzer.Buzzer
	resting light.State // what the light shows between sessions
	life    pulse       // of the conductor
	running atomic.Bool // a session is, and does not stand still
	began   time.Time   // the last session in which something was done or felt; zero where none was since the program began
}

var cardDiary = diary.Options{Card: true}

// run waits for the button and runs sessions until ctx is done, or the button
// is gone: a box that cannot be stopped starts nothing.
func (r *boxRun) run(ctx context.Context, pins *boxPins) error {
	ctx, cancel := context.WithCancel(ctx)
	defer cancel()
	shown := light.New(pins.light, func(err error) { r.log.trouble("light: %v", err) })
	defer shown.Close()
	r.light = &boxLight{light: shown}
	r.buzzer = buzzer.New(buzzer.NewPinMotor(pins.buzzer, r.box.Lead), r.box.Lead, func(err error) { r.log.trouble("buzzer: %v", err) })
	defer r.buzzer.Close()
	r.button = button.New(pins.button, false, func(stuck bool) {
		if stuck {
			r.log.trouble("the button has been down for %v: it is stuck, or something lies on it", button.StuckAfter)
		}
		r.light.stuck(stuck)
	})
	if v := os.Getenv("PULSE_SERVER"); strings.Contains(v, "tcp") {
		os.Unsetenv("PULSE_SERVER") // a box opens no network, whoever asks
		r.log.trouble("PULSE_SERVER=%s is not used: it is over a network", v)
	}
	gone := make(chan error, 1)
	go func() {
		err := r.button.Watch(ctx)
		cancel()
		gone <- err
	}()

	stop := r.keepAlive(&pins.life)
	defer stop()
	r.warm(ctx)
	r.resting = light.Ready
	for ctx.Err() == nil {
		r.light.set(r.resting)
		r.log.say("ready: a press starts")
		if r.button.AwaitStart(ctx) != nil {
			break
		}
		if err := r.session(ctx); err != nil {
			r.log.trouble("cannot start: %v", err)
			r.buzzer.Play(buzzer.CannotStart)
			r.light.set(light.Trouble)
			Pause(ctx, troubleShown)
		}
	}
	if err := <-gone; err != nil {
		return fmt.Errorf("button: %w", err)
	}
	return nil
}

// warm makes the voice before anybody waits for it: a small board takes long to
// speak it, and then it is kept. What is wrong the first press will tell.
func (r *boxRun) warm(ctx context.Context) {
	if r.box.Sound == "off" {
		return
	}
	r.light.set(light.Running) // not dark, which would say that nothing runs
	file := filepath.Join(r.folder, filepath.FromSlash(r.box.Session))
	if t, err := live.Load(file); err == nil {
		live.LoadVoice(ctx, file, t.Session())
	}
}

// troubleShown is for how long the light says that a session could not begin,
// or what went wrong in it.
const troubleShown = 10 * time.Second

func Pause(ctx context.Context, d time.Duration) {
	select {
	case <-ctx.Done():
	case <-time.After(d):
	}
}

// hangs is how long those who must not hang may be silent.
const hangs = 5 * time.Second

// alive reports whether somebody watches the button and, while a session runs,
// somebody conducts it.
func (r *boxRun) alive(button *pulse) bool {
	return button.within(hangs) && (!r.running.Load() || r.life.within(hangs))
}

// keepAlive tells systemd, where it is there, that the box is ready once its
// button is watched, and again and again that it is alive.
func (r *boxRun) keepAlive(button *pulse) (stop func()) {
	ctx, cancel := context.WithCancel(context.Background())
	every, err := daemon.SdWatchdogEnabled(false)
	if err != nil || every <= 0 {
		every = time.Hour
	}
	go func() {
		for !button.beats() && ctx.Err() == nil {
			Pause(ctx, 10*time.Millisecond)
		}
		daemon.SdNotify(false, daemon.SdNotifyReady)
		for ctx.Err() == nil {
			if r.alive(button) {
				daemon.SdNotify(false, daemon.SdNotifyWatchdog)
			}
			Pause(ctx, every/3)
		}
	}()
	return func() {
		cancel()
		daemon.SdNotify(false, daemon.SdNotifyStopping)
	}
}

// session runs today's session. The error says why it could not begin.
func (r *boxRun) session(ctx context.Context) error {
	commands := r.button.Session() // so that a press stops from now on
	r.light.set(light.Running)
	r.log.say("pressed")
	Pause(ctx, 2*time.Millisecond) // for the light to show it, before there is much to do
	file := filepath.Join(r.folder, filepath.FromSlash(r.box.Session))
	path := filepath.Join(r.folder, filepath.FromSlash(r.box.Diary))
	record, err := loanOn(r.folder)
	if err != nil {
		return err
	}
	prescribed, err := live.Load(file)
	if err != nil {
		return err
	}
	s := prescribed.Session()
	// Without the diary it is not known which level is due, and a box has nobody
	// to ask: it does not begin. First without a date: whether the clock can be
	// believed, the diary knows.
	past, err := history.Read(cardDiary, path, s, sessions.Date{})
	if err != nil {
		return withBoxCure(err)
	}
	now := r.clock()
	notBefore := record.Out
	if past.Last.After(notBefore) {
		notBefore = past.Last
	}
	var (
		known time.Time // now, where the clock is to be believed
		date  sessions.Date
	)
	if r.box.BatteryClock && !now.believed(notBefore) {
		r.log.trouble("the clock is not to be believed: its battery may be empty (glidepace box wiring tests it); without a day nothing is known of the day's sessions")
	} else if r.box.BatteryClock {
		known, date = now.wall, sessions.DateOf(now.wall)
		if past, err = history.Read(cardDiary, path, s, date); err != nil {
			return withBoxCure(err)
		}
	}
	noNeck, err := r.gate(s, past, known)
	if err != nil {
		return err
	}
	t, today, err := history.TodayAt(s, past, date, noNeck)
	if err != nil {
		return err
	}
	entry := history.NewEntry(t, now.wall, s.Hash(), history.PlanOf(s, today.Level, ""), false)
	entry.Cleared = record.Cleared && len(past.Entries) == 0 // not after a warning sign of this loan
	day := "today is " + date.String()
	if date.IsZero() {
		entry.Boot = &diary.Boot{ID: now.bootID, Since: now.sinceBoot.Seconds(), NotBefore: notBefore}
		day = "the date is not known"
	}
	settings := r.sound(ctx, file, t.Session())

	trouble := console.NewNotes(r.log)
	output, err := live.OpenSound(r.box.Sound, trouble)
	if err != nil {
		trouble.Add("%v; the session goes on without it", err)
	}
	defer output.Close()
	entry.Sound = output.Name()
	r.log.say("session: %s; %s; sound: %s; %s", pacer.Clock(t.Duration), strings.TrimSuffix(today.Why, "."), output.Name(), day)

	kept := diary.Options{Card: true, Committed: func(e diary.Event) {
		if e.Kind == diary.Repetition {
			r.log.say("recorded repetition %d of %d", e.Done.Repetitions, t.Repetitions)
		}
	}}
	b := live.NewRecord(kept, path, t, entry, func(err error) { r.log.trouble("%v", withBoxCure(err)) })
	output.Begin(nil, b)
	c := &pacer.Conductor{
		Sound:     beating{output.Live(settings, 0), &r.life},
		Followers: []pacer.Follower{r.buzzer, r.button, r.light, boxNews{r.log, &r.running}, b},
		Tail:      output.Tail(),
		OneButton: true,
	}
	r.life.beat()
	began := time.Now()
	result := c.Run(ctx, t, commands)
	r.log.say("%s", live.Summary(t, result))
	if result.Done.Repetitions > 0 || result.Outcome == sessions.Symptoms {
		r.began = began
	}
	if result.Outcome == sessions.Symptoms && ctx.Err() == nil {
		if result.Answer == pacer.WarningSign || result.Answer == pacer.TooOften {
			Pause(ctx, stopFelt) // it ended with the stop, which is felt first
		}
		// By touch it could still stand still: a press now may mean settled.
		r.buzzer.Play(buzzer.Stop)
		Pause(ctx, pacer.DeafAfterStop)
	}
	r.askAfter(ctx, b)
	r.resting = light.Ready
	if lost := b.Close(); lost != nil {
		r.log.trouble("%v", withBoxCure(lost))
		r.resting = light.Trouble
		r.buzzer.Play(buzzer.CannotStart)
	}
	return nil
}

// stopFelt is how long a stop takes to be felt, and to be told from the end that
// is felt after it.
var stopFelt = buzzer.Stop.Length() + time.Second

// gate returns why no session begins now, and whether it is to be one without
// the neck glide. A box cannot ask: what asks whether to do one all the same
// keeps it away, and what nobody can know here does not. now is zero where it is
// not known; then only this program can know how long ago the last one began.
func (r *boxRun) gate(s *sessions.Session, past history.Past, now time.Time) (noNeck bool, err error) {
	for _, h := range progress.Gate(s, past.Entries, now) {
		words := h.Message(now)
		switch h.Kind {
		case progress.RestToday, progress.DoseDone, progress.TooSoon:
			return false, errors.New(lowerFirst(strings.TrimSuffix(words, ".")))
		case progress.NotBackYet:
			r.log.say("%s The box cannot ask whether it is back to where it was.", words)
		case progress.NeckShut:
			noNeck = true
			r.log.say("%s The neck glide is left out.", words)
		}
	}
	gap := sessions.DefaultGap
	if s.Dose != nil {
		gap = s.Dose.Gap
	}
	if since := time.Since(r.began); now.IsZero() && !r.began.IsZero() && since < gap {
		return false, fmt.Errorf("the last session began %s ago, and the next should not begin within %s", pacer.Clock(since.Seconds()), pacer.Clock(gap.Seconds()))
	}
	return noNeck, nil
}

// sound says how the session is to sound. Without a voice that can be loaded it
// has none.
func (r *boxRun) sound(ctx context.Context, file string, s *sessions.Session) sounds.Settings {
	if r.box.Sound == "off" {
		return sounds.Settings{}
	}
	settings, notes := live.LoadSoundsToFollow(ctx, file, s, r.log)
	for _, n := range notes {
		r.log.say("%s", n)
	}
	if r.box.Volume != nil {
		settings.Volume = *r.box.Volume
	}
	return settings
}

// askAfter asks how symptoms are after the session, with the light, and writes
// the answer down.
func (r *boxRun) askAfter(ctx context.Context, b *live.Record) {
	if ctx.Err() != nil {
		return
	}
	r.light.set(light.Asking)
	r.log.say("asking how symptoms are")
	var felt sessions.Felt
	switch r.button.AwaitAnswer(ctx) {
	case button.NoStronger:
		felt = sessions.NoStronger
	case button.Stronger:
		felt = sessions.Stronger
	default:
		r.log.say("nobody said how symptoms are")
		return
	}
	b.Felt(felt)
	r.log.say("symptoms are %s than before", felt)
	r.buzzer.Play(buzzer.Turn) // understood
	r.light.set(light.Off)
	Pause(ctx, quietAfter)
}

// quietAfter is how long presses mean nothing after an answer, so that one given
// twice does not begin another session: as long as the light may be dark.
const quietAfter = 3 * time.Second

// withBoxCure adds to an error of the diary on a box's card what helps there.
func withBoxCure(err error) error {
	if errors.As(err, new(*diary.PlaceError)) {
		return fmt.Errorf("%w; bring the box back to the clinic", err)
	}
	return err
}

func lowerFirst(s string) string { return strings.ToLower(s[:1]) + s[1:] }
