// Package patient is the talk with a patient around a session: what they are told
// and asked before it begins and after it has ended, and what their answers lead
// to. A terminal and a web page each put it in their own way: see Person.
package patient

import (
	"context"
	"errors"
	"strings"
	"time"

	"glidepace/sessions"
	"glidepace/sessions/diary"
	"glidepace/sessions/progress"
)

// Person is how the patient is told and asked.
type Person interface {
	// There reports whether anybody can be asked.
	There() bool
	// Say shows a paragraph.
	Say(text string)
	// Urge shows what somebody who feels unwell is to do now.
	Urge(text string)
	// Warn shows what is missing or wrong, in a sentence.
	Warn(text string)
	// Brief shows what to know before a session.
	Brief(ctx context.Context, b Briefing, known bool) error
	// Read shows a text that the patient may stop reading.
	Read(ctx context.Context, t Text) error
	// Choose asks a question until one of its choices is taken, and returns the
	// choice's key. With patience it may fail with any error.
	Choose(ctx context.Context, q Question) (rune, error)
	// Rate asks how strong tingling and pain are now. Either may be skipped.
	Rate(ctx context.Context) (sessions.Ratings, error)
	// Afterwards lets pass what the patient still does for a session that has
	// ended, before anything is asked.
	Afterwards(ctx context.Context)
	// Lost shows what is not in the diary, to be written down, and why.
	Lost(e *diary.UnwrittenError)
}

// Question is a question that one of several choices answers.
type Question struct {
	Text    string // "" where the choices say it all
	Choices []Choice
	// Hint names the choices in brief for a keyboard: "(y, n)".
	Hint     string
	Patience time.Duration // how long to wait for an answer; 0 for ever
}

// Choice is an answer that a Question may have.
type Choice struct {
	Key   rune // lower case; '\n' for Enter
	Words string
}

// yesOrNo asks a question that only a clear yes answers with yes.
func yesOrNo(text string) Question {
	return Question{Text: text, Hint: "(y: yes, n or Enter: no)", Choices: []Choice{{'y', "yes"}, {'n', "no"}, {'\n', ""}}}
}

// ErrNotBegun says that the session was not begun. The patient has been told why.
var ErrNotBegun = errors.New("not begun")

// Talk is the talk with a patient around one session.
type Talk struct {
	Person
	Diary    string            // its file
	WithCure func(error) error // adds to an error of the diary what the patient can do
	// NotAsked decides on what stands against a session where nothing may be
	// asked; nil where it may.
	NotAsked func(hurdles []progress.Hurdle, now time.Time) (Passage, error)
	// ThenCleared says how the patient tells that the clinician has cleared the
	// neck glide.
	ThenCleared string

	Extra     bool // pass the hurdles that the patient may choose to pass
	Cleared   bool // the clinician has cleared the neck glide
	NoRatings bool // do not ask for ratings

	Without []string // what is missing in this session, a sentence each
}

// confirm asks a question. Any answer but yes is a no.
func (p *Talk) confirm(ctx context.Context, text string) (bool, error) {
	key, err := p.Choose(ctx, yesOrNo(text))
	return key == 'y', err
}

// Tell tells the patient about a session before it begins: in short, if they know
// the prescription.
func (p *Talk) Tell(ctx context.Context, b Briefing, known bool) error {
	if err := p.Brief(ctx, b, known); err != nil {
		return p.NotBegun("")
	}
	return nil
}

// Agree says what the session does without, and waits until the patient begins the session. The error is ErrNotBegun if
// they do not.
func (p *Talk) Agree(ctx context.Context, b Briefing) error {
	for _, text := range p.Without {
		p.Warn(text)
	}
	for p.NotAsked == nil {
		key, err := p.Choose(ctx, Begin)
		if err == nil && key == 'm' {
			err = p.Read(ctx, b.Everything())
		}
		switch {
		case err != nil || key == 'q':
			return p.NotBegun("")
		case key == '\n':
			return nil
		}
	}
	return nil
}

// Begin is the question before a session.
var Begin = Question{Choices: []Choice{{'\n', "begin"}, {'m', "more to read"}, {'q', "not now"}}}

// NotBegun says that the session was not begun, and why, and returns ErrNotBegun.
func (p *Talk) NotBegun(why string) error {
	p.Say(strings.TrimSpace("Not begun. " + why))
	return ErrNotBegun
}
