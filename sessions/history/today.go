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

// Today is today's session, as the diary and the file's rules make it.
type Today struct {
	*pacer.Timeline
	Why     string   // it is what it is
	Against []string // what stands against beginning it now
	Shut    bool     // the neck glide is
}

// Words are why and against in one.
func (t Today) Words() string { return strings.Join(append([]string{t.Why}, t.Against...), " ") }

// TodayOf lays out today's session of the one prescribed, without the
// neck glide where that is shut and something else is left.
func TodayOf(prescribed *pacer.Timeline, path string) (t Today, err error) {
	s, now := prescribed.Session(), time.Now()
	p, err := Read(diary.Options{}, path, s, sessions.DateOf(now))
	if err != nil {
		return t, err
	}
	a := progress.Today(s, p.Entries, p.Day)
	t.Why = a.Why
	if words := p.ClockWords(now); words != "" {
		t.Against = append(t.Against, words)
	}
	for _, h := range progress.Gate(s, p.Entries, p.Clock(now)) {
		switch h.Kind {
		case progress.AskMorning:
			continue
		case progress.NeckShut:
			t.Shut = true
		}
		t.Against = append(t.Against, h.Message(p.Clock(now)))
	}
	if a.Level != pacer.Prescribed(s) && p.unrated {
		t.Against = append(t.Against, Unrated)
	}
	t.Timeline, _, err = TodayAt(s, p, p.Day, t.Shut)
	if errors.Is(err, pacer.ErrOnlyNeck) {
		t.Timeline, _, err = TodayAt(s, p, p.Day, false)
	}
	return t, err
}

// TodayAt lays out the session of a day, zero where it is not known, without the
// neck glide where noNeck is set.
func TodayAt(s *sessions.Session, p Past, day sessions.Date, noNeck bool) (*pacer.Timeline, progress.Plan, error) {
	a := progress.Today(s, p.Entries, day)
	a.Level.NoNeck = noNeck
	t, err := pacer.NewAt(p.Posture(s), a.Level)
	return t, a, err
}

// Unrated is what skipping the ratings comes to.
const Unrated = "Sessions without ratings do not count toward more."
