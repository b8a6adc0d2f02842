package main

import (
	"context"
	"fmt"
	"slices"
	"time"

	"glidepace/cmd/glidepace/internal/console"
	"glidepace/cmd/glidepace/internal/live"
	"glidepace/sessions"
	"glidepace/sessions/diary"
	"glidepace/sessions/history"
	"glidepace/sessions/progress"
)

// passage is what became of the gate: how a session may begin.
type passage struct {
	extra    bool                 // knowingly beyond the dose, or against rest
	cleared  bool                 // the neck glide, as the clinician said
	noNeck   bool                 // without the neck glide
	morning  string               // id of the session of which that was said, "" for none
	wasWorse sessions.NextMorning // with morning
}

// allTheSame are the hurdles that whoever wants to may pass.
var allTheSame = []progress.HurdleKind{progress.RestToday, progress.DoseDone, progress.TooSoon}

// gate says what stands against a session, each with its question below it, and
// returns how it may begin, or the exit code.
func (p *paceRun) gate(ctx context.Context, s *sessions.Session, hurdles []progress.Hurdle, now time.Time) (pass passage, err error) {
	if p.yes {
		return p.gateUnasked(hurdles, now)
	}
	for i, h := range hurdles {
		words := h.Message(now)
		switch {
		case h.Kind == progress.AskMorning:
			question, hint := h.Question(), "(y, n, Enter: do not know)"
			p.told = len(console.Asking(p.out, question, hint))
			key, err := console.AskKey(ctx, p.in, p.out, question, hint, "yn\n")
			if err != nil {
				return pass, p.notBegun("")
			}
			if how := map[rune]sessions.NextMorning{'y': sessions.Worse, 'n': sessions.NotWorse}[key]; how != "" {
				pass.morning, pass.wasWorse = h.Entry.ID, how
			}
			if key == 'y' {
				p.say("Tell your clinician about it.")
				p.told++
			}
		case h.Kind == progress.NotBackYet:
			switch key, err := console.AskKey(ctx, p.in, p.out, words+" "+h.Question(), "(y: yes, n: no)", "yn"); {
			case err != nil:
				return pass, p.notBegun("")
			case key == 'n':
				return pass, p.notBegun("Rest, and tell your clinician.")
			}
		case h.Kind == progress.NeckShut && p.cleared:
			pass.cleared = true
		case h.Kind == progress.NeckShut:
			if !slices.ContainsFunc(s.Exercises, func(e sessions.Exercise) bool { return !e.Glide.Neck }) {
				return pass, p.notBegun(words + " " + thenCleared)
			}
			if key, err := console.AskKey(ctx, p.in, p.out, words+" "+thenCleared+" Do the other exercises without it?", "(y: yes, n or Enter: no)", "yn\n"); err != nil || key != 'y' {
				return pass, p.notBegun("")
			}
			pass.noNeck = true
		default:
			pass.extra = pass.extra || h.Kind != progress.TooSoon
			more := i+1 < len(hurdles) && slices.Contains(allTheSame, hurdles[i+1].Kind)
			if p.extra || more { // asked once for all of them
				p.say(words)
				continue
			}
			if key, err := console.AskKey(ctx, p.in, p.out, words+" "+h.Question(), "(y: yes, n or Enter: no)", "yn\n"); err != nil || key != 'y' {
				return pass, p.notBegun("")
			}
		}
	}
	return pass, nil
}

const thenCleared = "Then add --cleared to the command."

// gateUnasked is the gate where nothing is to be asked: what would be asked
// keeps the session away, unless --extra says to do it all the same.
func (p *paceRun) gateUnasked(hurdles []progress.Hurdle, now time.Time) (pass passage, err error) {
	for _, h := range hurdles {
		words, cure := h.Message(now), "--extra does the session all the same."
		switch {
		case h.Kind == progress.AskMorning:
			continue
		case h.Kind == progress.NeckShut && p.cleared:
			pass.cleared = true
			continue
		case h.Kind == progress.NeckShut:
			cure = thenCleared
		case p.extra:
			pass.extra = pass.extra || h.Kind == progress.RestToday || h.Kind == progress.DoseDone
			p.say(words)
			continue
		}
		text := fmt.Sprintf("glidepace: not begun: %s %s", words, cure)
		if console.IsTerminal(p.errs) {
			console.NewPrinter(p.errs).Wrap("", text)
		} else {
			fmt.Fprintln(p.errs, text)
		}
		return pass, console.ExitError(console.ExitEarly)
	}
	return pass, nil
}

// askDay tells of a clock that seems wrong, and asks whether it is.
func (p *paceRun) askDay(ctx context.Context, s *sessions.Session, past history.Past, now time.Time) (history.Past, error) {
	words, today := past.ClockWords(now), sessions.DateOf(now)
	switch {
	case words == "":
		return past, nil
	case p.yes:
		p.say(words)
		return past, nil
	}
	key, err := console.AskKey(ctx, p.in, p.out, fmt.Sprintf("%s Is today %s?", words, today), "(y: yes, n or Enter: no)", "yn\n")
	switch {
	case err != nil:
		return past, p.notBegun("")
	case key == 'y':
		return past.TodayIs(diary.Options{}, p.diary, s, today)
	}
	return past, nil
}

// strong asks whether to go on where what was rated before a session is strong.
func (p *paceRun) strong(ctx context.Context, r sessions.Ratings) error {
	for _, n := range []*int{r.Tingling, r.Pain} {
		if n == nil || *n < progress.StrongToday {
			continue
		}
		key, err := console.AskKey(ctx, p.in, p.out, "That is strong today. Rest, and tell your clinician if it stays. Do the session all the same?", "(y: yes, n or Enter: no)", "yn\n")
		if err != nil || key != 'y' {
			return p.notBegun("")
		}
		break
	}
	return nil
}

// keepMorning writes down what was said of the morning after a session. Trouble
// is told; it stops nothing.
func (p *paceRun) keepMorning(pass passage, at time.Time) bool {
	if pass.morning == "" {
		return false
	}
	if err := live.KeepNextMorning(p.diary, pass.morning, pass.wasWorse, at); err != nil {
		p.without = append(p.without, fmt.Sprintf("%v; what you said of the morning is not kept", p.withCure(err)))
		return false
	}
	return true
}

// say tells something at the start, in whole lines.
func (p *paceRun) say(text string) { console.NewPrinter(p.out).Wrap("", text) }
