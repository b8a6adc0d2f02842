package patient

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
	Extra    bool                 // knowingly beyond the dose, or against rest
	Cleared  bool                 // the neck glide, as the clinician said
	NoNeck   bool                 // without the neck glide
	morning  string               // id of the session of which that was said, "" for none
	wasWorse sessions.NextMorning // with morning
}

// allTheSame are the hurdles that whoever wants to may pass.
var allTheSame = []progress.HurdleKind{progress.RestToday, progress.DoseDone, progress.TooSoon}

// Gate says what stands against a session that is to begin now, and asks about
// it. It returns how the session may begin, and the past with what was said, or
// the exit code.
func (p *Talk) Gate(ctx context.Context, s *sessions.Session, past history.Past, now time.Time) (passage, history.Past, error) {
	past, err := p.askDay(ctx, s, past, now)
	if err != nil {
		return passage{}, past, err
	}
	at := past.Clock(now)
	pass, err := p.hurdles(ctx, s, progress.Gate(s, past.Entries, at), at)
	if err != nil || pass.morning == "" {
		return pass, past, err
	}
	if err := live.KeepNextMorning(p.Diary, pass.morning, pass.wasWorse, at); err != nil {
		p.Without = append(p.Without, fmt.Sprintf("%v; what you said of the morning is not kept", p.WithCure(err)))
	} else if again, err := history.Read(diary.Options{}, p.Diary, s, sessions.DateOf(now)); err == nil {
		past = again // what was said may change what today is
	}
	return pass, past, nil
}

// askDay tells of a clock that seems wrong, and asks whether it is.
func (p *Talk) askDay(ctx context.Context, s *sessions.Session, past history.Past, now time.Time) (history.Past, error) {
	words, today := past.ClockWords(now), sessions.DateOf(now)
	switch {
	case words == "":
		return past, nil
	case p.Yes:
		p.say(words)
		return past, nil
	}
	key, err := console.AskKey(ctx, p.In, p.Out, fmt.Sprintf("%s Is today %s?", words, today), "(y: yes, n or Enter: no)", "yn\n")
	switch {
	case err != nil:
		return past, p.NotBegun("")
	case key == 'y':
		return past.TodayIs(diary.Options{}, p.Diary, s, today)
	}
	return past, nil
}

// hurdles takes each hurdle with its question below it.
func (p *Talk) hurdles(ctx context.Context, s *sessions.Session, hurdles []progress.Hurdle, now time.Time) (pass passage, err error) {
	if p.Yes {
		return p.gateUnasked(hurdles, now)
	}
	for i, h := range hurdles {
		words := h.Message(now)
		switch {
		case h.Kind == progress.AskMorning:
			question, hint := h.Question(), "(y, n, Enter: do not know)"
			p.told = len(console.Asking(p.Out, question, hint))
			key, err := console.AskKey(ctx, p.In, p.Out, question, hint, "yn\n")
			if err != nil {
				return pass, p.NotBegun("")
			}
			if how := map[rune]sessions.NextMorning{'y': sessions.Worse, 'n': sessions.NotWorse}[key]; how != "" {
				pass.morning, pass.wasWorse = h.Entry.ID, how
			}
			if key == 'y' {
				p.say("Tell your clinician about it.")
				p.told++
			}
		case h.Kind == progress.NotBackYet:
			switch key, err := console.AskKey(ctx, p.In, p.Out, words+" "+h.Question(), "(y: yes, n: no)", "yn"); {
			case err != nil:
				return pass, p.NotBegun("")
			case key == 'n':
				return pass, p.NotBegun("Rest, and tell your clinician.")
			}
		case h.Kind == progress.NeckShut && p.Cleared:
			pass.Cleared = true
		case h.Kind == progress.NeckShut:
			if !slices.ContainsFunc(s.Exercises, func(e sessions.Exercise) bool { return !e.Glide.Neck }) {
				return pass, p.NotBegun(words + " " + ThenCleared)
			}
			if key, err := console.AskKey(ctx, p.In, p.Out, words+" "+ThenCleared+" Do the other exercises without it?", "(y: yes, n or Enter: no)", "yn\n"); err != nil || key != 'y' {
				return pass, p.NotBegun("")
			}
			pass.NoNeck = true
		default:
			pass.Extra = pass.Extra || h.Kind != progress.TooSoon
			more := i+1 < len(hurdles) && slices.Contains(allTheSame, hurdles[i+1].Kind)
			if p.Extra || more { // asked once for all of them
				p.say(words)
				continue
			}
			if key, err := console.AskKey(ctx, p.In, p.Out, words+" "+h.Question(), "(y: yes, n or Enter: no)", "yn\n"); err != nil || key != 'y' {
				return pass, p.NotBegun("")
			}
		}
	}
	return pass, nil
}

const ThenCleared = "Then add --cleared to the command."

// gateUnasked is the gate where nothing is to be asked: what would be asked
// keeps the session away, unless --extra says to do it all the same.
func (p *Talk) gateUnasked(hurdles []progress.Hurdle, now time.Time) (pass passage, err error) {
	for _, h := range hurdles {
		words, cure := h.Message(now), "--extra does the session all the same."
		switch {
		case h.Kind == progress.AskMorning:
			continue
		case h.Kind == progress.NeckShut && p.Cleared:
			pass.Cleared = true
			continue
		case h.Kind == progress.NeckShut:
			cure = ThenCleared
		case p.Extra:
			pass.Extra = pass.Extra || h.Kind == progress.RestToday || h.Kind == progress.DoseDone
			p.say(words)
			continue
		}
		text := fmt.Sprintf("glidepace: not begun: %s %s", words, cure)
		if console.IsTerminal(p.Errs) {
			console.NewPrinter(p.Errs).Wrap("", text)
		} else {
			fmt.Fprintln(p.Errs, text)
		}
		return pass, console.ExitError(console.ExitEarly)
	}
	return pass, nil
}
