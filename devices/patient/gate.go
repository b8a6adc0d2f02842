package patient

import (
	"context"
	"fmt"
	"slices"
	"strings"
	"time"

	"glidepace/sessions"
	"glidepace/sessions/diary"
	"glidepace/sessions/history"
	"glidepace/sessions/progress"
)

// Passage is how a session may begin, once all hurdles are passed.
type Passage struct {
	Extra   bool // the patient knows that it is beyond the dose, or against rest
	Cleared bool // the patient says that the clinician has cleared the neck glide
	NoNeck  bool // without the neck glide

	morningAfter string               // id of the session that the question was about; "" for none
	morning      sessions.NextMorning // the patient's answer
}

// optional are the hurdles that the patient may choose to pass.
var optional = []progress.HurdleKind{progress.RestToday, progress.NoneDue, progress.TooSoon}

// Gate says what stands against beginning a session now, and asks about it. It
// returns how the session may begin, and the past with the answers in it. The
// error is the exit code of a session that may not.
func (p *Talk) Gate(ctx context.Context, s *sessions.Session, past history.Past, now time.Time) (Passage, history.Past, error) {
	past, err := p.askDay(ctx, s, past, now)
	if err != nil {
		return Passage{}, past, err
	}
	at := past.Clock(now)
	pass, err := p.hurdles(ctx, s, progress.Gate(s, past.Entries, at), at)
	if err != nil || pass.morningAfter == "" {
		return pass, past, err
	}
	if err := history.KeepNextMorning(p.Diary, pass.morningAfter, pass.morning, at); err != nil {
		p.Without = append(p.Without, fmt.Sprintf("%v; your answer about the morning is not kept", p.WithCure(err)))
	} else if again, err := history.Read(diary.Options{}, p.Diary, s, sessions.DateOf(now)); err == nil {
		past = again // the answer may change today's session
	}
	return pass, past, nil
}

// askDay says that the clock seems wrong, and asks what day it is.
func (p *Talk) askDay(ctx context.Context, s *sessions.Session, past history.Past, now time.Time) (history.Past, error) {
	words, today := past.ClockWords(now), sessions.DateOf(now)
	switch {
	case words == "":
		return past, nil
	case p.NotAsked != nil:
		p.Say(words)
		return past, nil
	}
	yes, err := p.confirm(ctx, fmt.Sprintf("%s Is today %s?", words, today))
	switch {
	case err != nil:
		return past, p.NotBegun("")
	case yes:
		return past.TodayIs(diary.Options{}, p.Diary, s, today)
	}
	return past, nil
}

// hurdles says what each hurdle is, and asks about it.
func (p *Talk) hurdles(ctx context.Context, s *sessions.Session, hurdles []progress.Hurdle, now time.Time) (pass Passage, err error) {
	if p.NotAsked != nil {
		return p.NotAsked(hurdles, now)
	}
	against := "" // what one question is asked about
	for i, h := range hurdles {
		words := h.Message(now)
		switch {
		case h.Kind == progress.AskClinician:
			p.Say(words)
		case h.Kind == progress.AskMorning:
			key, err := p.Choose(ctx, Question{Text: h.Question(), Hint: "(y, n, Enter: do not know)",
				Choices: []Choice{{'y', "yes, worse"}, {'n', "no"}, {'\n', "I do not know"}}})
			if err != nil {
				return pass, p.NotBegun("")
			}
			switch key {
			case 'y':
				pass.morningAfter, pass.morning = h.Entry.ID, sessions.Worse
				p.Say("Tell your clinician about it.")
			case 'n':
				pass.morningAfter, pass.morning = h.Entry.ID, sessions.NotWorse
			}
		case h.Kind == progress.NotBackYet:
			switch key, err := p.Choose(ctx, Question{Text: words + " " + h.Question(), Hint: "(y: yes, n: no)", Choices: []Choice{{'y', "yes"}, {'n', "no"}}}); {
			case err != nil:
				return pass, p.NotBegun("")
			case key == 'n':
				return pass, p.NotBegun("Rest, and tell your clinician.")
			}
		case h.Kind == progress.NeckShut && p.Cleared:
			pass.Cleared = true
		case h.Kind == progress.NeckShut:
			if !slices.ContainsFunc(s.Exercises, func(e sessions.Exercise) bool { return !e.Glide.Neck }) {
				return pass, p.NotBegun(words + " " + p.ThenCleared)
			}
			if yes, _ := p.confirm(ctx, words+" "+p.ThenCleared+" Do the other exercises without it?"); !yes {
				return pass, p.NotBegun("")
			}
			pass.NoNeck = true
		default:
			pass.Extra = pass.Extra || h.Kind != progress.TooSoon
			if p.Extra {
				p.Say(words)
				continue
			}
			against += words + " "
			if i+1 < len(hurdles) && slices.Contains(optional, hurdles[i+1].Kind) {
				continue // one question for all of them
			}
			if yes, _ := p.confirm(ctx, strings.TrimSpace(against)+" "+h.Question()); !yes {
				return pass, p.NotBegun("")
			}
			against = ""
		}
	}
	return pass, nil
}
