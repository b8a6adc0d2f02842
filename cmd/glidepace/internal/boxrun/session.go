package boxrun

import (
	"context"
	"errors"
	"fmt"
	"strings"
	"time"

	"glidepace/cmd/glidepace/internal/console"
	"glidepace/cmd/glidepace/internal/live"
	"glidepace/devices/box/loan"
	"glidepace/devices/button"
	"glidepace/devices/buzzer"
	"glidepace/devices/light"
	"glidepace/devices/patient"
	"glidepace/pacer"
	"glidepace/sessions"
	"glidepace/sessions/diary"
	"glidepace/sessions/history"
	"glidepace/sessions/progress"
	"glidepace/sounds"
)

var cardDiary = diary.Options{Card: true}

// planned is a session that may begin.
type planned struct {
	timeline *pacer.Timeline
	level    string        // why it is as it is, for the log
	entry    diary.Session // with which the diary begins it
}

// session runs today's session. The error says why it could not begin.
func (r *runner) session(ctx context.Context) error {
	commands := r.button.Session() // from now on a press stops
	r.light.set(light.Running)
	r.log.info("pressed")
	Wait(ctx, 2*time.Millisecond) // lets the light show it before there is much to do
	p, err := r.plan()
	if err != nil {
		return err
	}
	t := p.timeline
	settings, stopVoice := r.sound(ctx, t.Session())
	defer stopVoice()
	trouble := console.NewNotes(r.log)
	output, err := live.OpenSound(r.box.Sound, trouble)
	if err != nil {
		trouble.Add("%v; the session goes on without it", err)
	}
	defer output.Close()
	p.entry.Sound = output.Name()
	day := "today is " + sessions.DateOf(p.entry.Started).String()
	if p.entry.Boot != nil {
		day = "the date is not known"
	}
	r.log.info("session: %s; %s; sound: %s; %s", pacer.Clock(t.Duration), p.level, output.Name(), day)

	options := diary.Options{Card: true, Committed: func(e diary.Event) {
		if e.Kind == diary.Repetition {
			r.log.info("recorded repetition %d of %d", e.Done.Repetitions, t.Repetitions)
		}
	}}
	record := history.NewWriter(options, r.path(r.box.Diary), t, p.entry, func(err error) { r.log.warn("%v", withCure(err)) })
	output.Begin(record)
	c := &pacer.Conductor{
		Sound:     watchedSound{output.Live(settings, 0), &r.conductor},
		Followers: []pacer.Follower{r.buzzer, r.button, r.light, r, record},
		Tail:      output.Tail(),
		OneButton: true,
	}
	r.conductor.beat()
	began := time.Now()
	result := c.Run(ctx, t, commands)
	r.log.info("%s", patient.Summary(t, result))
	if result.Done.Repetitions > 0 || result.Outcome == sessions.Symptoms {
		r.lastBegan = began
	}
	r.finish(ctx, result, record)
	return nil
}

// plan returns today's session. The error says why no session begins.
func (r *runner) plan() (*planned, error) {
	lent, err := loanOn(r.folder)
	if err != nil {
		return nil, err
	}
	prescribed, err := live.Load(r.path(r.box.Session))
	if err != nil {
		return nil, err
	}
	s := prescribed.Session()
	// The diary is read without a date first: its last session shows whether the
	// clock can be right. Without the diary no session begins, since then nobody
	// knows what is due.
	past, err := history.Read(cardDiary, r.path(r.box.Diary), s, sessions.Date{})
	if err != nil {
		return nil, withCure(err)
	}
	now := r.clock()
	notBefore := lent.Out
	if past.Last.After(notBefore) {
		notBefore = past.Last
	}
	var (
		known time.Time // now, where the clock can be believed
		date  sessions.Date
	)
	if r.box.BatteryClock && !now.believable(notBefore) {
		r.log.warn("the clock cannot be right: its battery may be empty (glidepace box wiring tests it). Without a date the box does not know what was done today")
	} else if r.box.BatteryClock {
		known, date = now.wall, sessions.DateOf(now.wall)
		if past, err = history.Read(cardDiary, r.path(r.box.Diary), s, date); err != nil {
			return nil, withCure(err)
		}
	}
	noNeck, err := r.gate(s, past, known)
	if err != nil {
		return nil, err
	}
	t, today, err := history.LayOutOn(s, past, date, noNeck)
	if err != nil {
		return nil, err
	}
	entry := history.NewSession(t, now.wall, s.Hash(), history.PlanOf(s, today.Level, ""), false)
	entry.Source = diary.OnBox
	entry.Cleared = lent.Cleared && len(past.Entries) == 0 // not after a warning sign of this loan
	if date.IsZero() {
		entry.Boot = &diary.Boot{ID: now.bootID, Since: now.sinceBoot.Seconds(), NotBefore: notBefore}
	}
	return &planned{t, strings.TrimSuffix(today.Why, "."), entry}, nil
}

// loanOn returns the loan of a card, the zero loan where it has no record. The
// error says that the card was not loaded to the end.
func loanOn(folder string) (*loan.Record, error) {
	record, err := loan.Read(folder)
	switch {
	case err != nil:
		return nil, err
	case record == nil:
		return &loan.Record{}, nil
	case record.Loading:
		return nil, errors.New("the card was not loaded to the end: load it again (glidepace box load)")
	}
	return record, nil
}

// gate returns why no session begins now, and whether the neck glide is left
// out. Where a person could be asked whether to begin all the same, the box
// begins none. What it cannot know does not stop it. now is zero where it is not
// known: then only this program can know how long ago the last session began.
func (r *runner) gate(s *sessions.Session, past history.Past, now time.Time) (noNeck bool, err error) {
	for _, h := range progress.Gate(s, past.Entries, now) {
		text := h.Message(now)
		switch h.Kind {
		case progress.RestToday, progress.NoneDue, progress.TooSoon:
			return false, errors.New(strings.ToLower(text[:1]) + strings.TrimSuffix(text[1:], "."))
		case progress.AskClinician:
			r.log.info("%s", text)
		case progress.NotBackYet:
			r.log.info("%s The box cannot ask whether symptoms are back to where they were.", text)
		case progress.NeckShut:
			noNeck = true
			r.log.info("%s The neck glide is left out.", text)
		}
	}
	gap := sessions.DefaultGap
	if s.Dose != nil {
		gap = s.Dose.Gap
	}
	if since := time.Since(r.lastBegan); now.IsZero() && !r.lastBegan.IsZero() && since < gap {
		return false, fmt.Errorf("the last session began %s ago, and the next should not begin within %s", pacer.Clock(since.Seconds()), pacer.Clock(gap.Seconds()))
	}
	return noNeck, nil
}

// sound says how the session is to sound. A voice that cannot be loaded, or not
// soon, is left out; it may go on being made until stopVoice.
func (r *runner) sound(ctx context.Context, s *sessions.Session) (settings sounds.Settings, stopVoice func()) {
	if r.box.Sound == "off" {
		return sounds.Settings{}, func() {}
	}
	settings, notes, stopVoice := live.LoadSoundsToFollow(ctx, r.path(r.box.Session), s, r.log)
	for _, n := range notes {
		r.log.info("%s", n)
	}
	if r.box.Volume != nil {
		settings.Volume = *r.box.Volume
	}
	return settings, stopVoice
}

// stopFelt is how long the buzz of a stop takes, with a gap that tells it from the
// buzz of the end after it.
var stopFelt = buzzer.Stop.Length() + time.Second

// finish ends a session: if symptoms ended it, a buzz says so. Then it asks how
// symptoms are, and closes the record.
func (r *runner) finish(ctx context.Context, result pacer.Result, record *history.Writer) {
	if result.Outcome == sessions.Symptoms && ctx.Err() == nil {
		if result.Answer == pacer.WarningSign || result.Answer == pacer.TooOften {
			Wait(ctx, stopFelt) // the stop ended it, and is felt first
		}
		r.buzzer.Play(buzzer.Stop)
		// Before this was felt, the session could seem to be only stopped: a
		// press now may still mean that it has settled.
		Wait(ctx, pacer.DeafAfterStop)
	}
	r.askFelt(ctx, record)
	r.idle = light.Ready
	if lost := record.Close(); lost != nil {
		r.log.warn("%v", withCure(lost))
		r.idle = light.Trouble
		r.buzzer.Play(buzzer.CannotStart)
	}
}

// askFelt asks, by the light, how symptoms are after the session, and records
// the answer.
func (r *runner) askFelt(ctx context.Context, record *history.Writer) {
	if ctx.Err() != nil {
		return
	}
	r.light.set(light.Asking)
	r.log.info("asking how symptoms are")
	var felt sessions.Felt
	switch r.button.AwaitAnswer(ctx) {
	case button.NoStronger:
		felt = sessions.NoStronger
	case button.Stronger:
		felt = sessions.Stronger
	default:
		r.log.info("nobody said how symptoms are")
		return
	}
	record.Felt(felt)
	r.log.info("symptoms are %s than before", felt)
	r.buzzer.Play(buzzer.Turn) // understood
	r.light.set(light.Off)
	Wait(ctx, deafAfterAnswer)
}

// deafAfterAnswer is how long presses mean nothing after an answer, so that a second
// press does not begin another session. The light may not be dark for longer.
const deafAfterAnswer = 3 * time.Second
