package history

import (
	"errors"
	"strings"
	"time"

	"glidepace/pacer"
	"glidepace/sessions"
	"glidepace/sessions/diary"
	"glidepace/sessions/progress"
)

// Today is today's session, as the rules and the diary make it.
type Today struct {
	*pacer.Timeline
	Why      string   // why it is like that
	Against  []string // what speaks against beginning it now
	NeckShut bool     // no neck glide may be done
}

// Words says why the session is like that, and what speaks against it.
func (t Today) Words() string { return strings.Join(append([]string{t.Why}, t.Against...), " ") }

// LayOut lays out today's session, from the diary at path. A neck glide that may not
// be done is left out if there are other exercises.
func LayOut(prescribed *pacer.Timeline, path string) (t Today, err error) {
	s, now := prescribed.Session(), time.Now()
	p, err := Read(diary.Options{}, path, s, sessions.DateOf(now))
	if err != nil {
		return t, err
	}
	a := progress.Today(s, p.Entries, p.Day)
	t.Why = a.Why
	t.Against = append(t.Against, p.Warnings...)
	if words := p.ClockWords(now); words != "" {
		t.Against = append(t.Against, words)
	}
	for _, h := range progress.Gate(s, p.Entries, p.Clock(now)) {
		switch h.Kind {
		case progress.AskMorning:
			continue
		case progress.NeckShut:
			t.NeckShut = true
		}
		t.Against = append(t.Against, h.Message(p.Clock(now)))
	}
	if a.Level != pacer.Prescribed(s) && p.unrated {
		t.Against = append(t.Against, Unrated)
	}
	t.Timeline, _, err = LayOutOn(s, p, p.Day, t.NeckShut)
	if errors.Is(err, pacer.ErrOnlyNeck) {
		t.Timeline, _, err = LayOutOn(s, p, p.Day, false)
	}
	return t, err
}

// LayOutOn lays out the session of a day, zero if the day is not known.
func LayOutOn(s *sessions.Session, p Past, day sessions.Date, noNeck bool) (*pacer.Timeline, progress.Plan, error) {
	a := progress.Today(s, p.Entries, day)
	a.Level.NoNeck = noNeck
	t, err := pacer.NewAt(p.Posture(s), a.Level)
	return t, a, err
}

// Unrated says what skipped ratings mean for the next sessions.
const Unrated = "Sessions without ratings do not count toward doing more."
