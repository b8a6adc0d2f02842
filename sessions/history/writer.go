package history

import (
	"cmp"
	"context"
	"errors"
	"sync/atomic"
	"time"

	"glidepace/pacer"
	"glidepace/sessions"
	"glidepace/sessions/diary"
)

// How long a session may wait for the diary before it begins, and the program
// before it ends.
const diaryPatience = 3 * time.Second

// Writer writes a running session into the diary.
type Writer struct {
	SettleWithin time.Duration // of the prescription

	diary        *diary.Recorder
	began, ended instant // of the session
	paused       bool    // or stopped
}

var _ pacer.Follower = (*Writer)(nil)

// instant is when something was, for several goroutines.
type instant struct{ atomic.Pointer[time.Time] }

// since returns the time since then, 0 before it was.
func (i *instant) since() time.Duration {
	if at := i.Load(); at != nil {
		return time.Since(*at)
	}
	return 0
}

// NewWriter begins the session's row in the diary at path. It reports trouble, but
// trouble never stops a session.
func NewWriter(o diary.Options, path string, t *pacer.Timeline, entry diary.Session, trouble func(error)) *Writer {
	return &Writer{
		SettleWithin: t.Session().Ease.SettleWithin,
		diary:        o.Record(path, entry, diaryPatience, trouble),
	}
}

// Follow implements pacer.Follower.
func (r *Writer) Follow(e pacer.Event) {
	r.began.CompareAndSwap(nil, &e.At)
	note := diary.Event{At: max(0, e.At.Sub(*r.began.Load())), Done: amount(e.Done)}
	if e.Step < len(e.Timeline.Steps) {
		s := e.Timeline.Steps[e.Step]
		note.Exercise, note.Side, note.Set, note.Rep = s.Exercise, s.Side.String(), s.Set, s.Rep
	}
	defer func() { r.paused = e.Kind == pacer.Paused || e.Kind == pacer.Answered }()
	switch e.Kind {
	case pacer.Began:
		if !r.paused {
			return // the row itself says that the session began
		}
		note.Kind = diary.Resumed
	case pacer.Repeated:
		note.Kind = diary.Repetition
	case pacer.Paused:
		note.Kind = diary.Paused
	case pacer.EnoughSaid:
		note.Kind = diary.Enough
	case pacer.Stopped:
		inSet := e.Step < len(e.Timeline.Steps) && e.Timeline.Steps[e.Step].InSet()
		note = note.With(diary.Stopping{InSet: inSet})
	case pacer.Answered:
		note = note.With(answerDetail(e))
	case pacer.Ended:
		r.ended.Store(&e.At)
		r.diary.End(diary.Ending{When: time.Now(), At: note.At, Outcome: e.Outcome, Done: note.Done})
		return
	default:
		return
	}
	r.diary.Event(note)
}

// answerDetail says how a stop ended, and how the session goes on.
func answerDetail(e pacer.Event) diary.Answer {
	a := diary.Answer{Reply: e.Answer.String(), Symptom: e.Answer.Symptom(), After: e.After.Seconds()}
	if e.Answer == pacer.Settled && e.Next != nil && len(e.Next.Steps) > 0 {
		a.Rate, _ = e.Next.Rates()
		for _, s := range e.Next.Steps {
			if s.InSet() {
				a.Repetitions = e.Next.RepsInSet(s)
				break
			}
		}
	}
	return a
}

// Sound writes down that the sound was lost or is back.
func (r *Writer) Sound(kind diary.Kind) {
	r.diary.Event(diary.Event{Kind: kind, At: r.began.since()})
}

// Said writes down which symptom ended the session at its last stop. NoSymptom
// means that it was none of those asked about: the session counts as ended early.
func (r *Writer) Said(what sessions.Symptom) {
	r.diary.Event(diary.Event{At: r.began.since()}.With(diary.Answer{Reply: cmp.Or(string(what), diary.Nothing), Symptom: what}))
}

// Stopped writes down a stop that the patient told of only after the session.
func (r *Writer) Stopped() {
	r.diary.Event(diary.Event{Kind: diary.Stopped, At: r.began.since()})
}

// Rated writes down the ratings after the session; nothing where nothing was
// rated.
func (r *Writer) Rated(what sessions.Ratings) {
	if !what.IsZero() {
		r.diary.Event(diary.Event{At: r.began.since()}.With(diary.Rating{When: diary.AfterSession, Ratings: what}))
	}
}

// SinceEnd returns how long ago the session ended.
func (r *Writer) SinceEnd() time.Duration { return r.ended.since() }

// Flush waits until all is written, for diaryPatience at most.
func (r *Writer) Flush() {
	ctx, stop := context.WithTimeout(context.Background(), diaryPatience)
	defer stop()
	r.diary.Flush(ctx)
}

// Settled writes down whether symptoms that rose have settled, and after how long.
func (r *Writer) Settled(back bool, after time.Duration) {
	r.diary.Event(diary.Event{At: r.began.since()}.With(diary.Settling{Settled: back, After: after.Seconds()}))
}

// Felt writes down how symptoms after the session compare with those before.
func (r *Writer) Felt(symptoms sessions.Felt) {
	r.diary.Event(diary.Event{At: r.began.since()}.With(diary.Feeling{Symptoms: symptoms}))
}

// Close closes the diary and returns what could not be written, nil where all
// could.
func (r *Writer) Close() *diary.UnwrittenError {
	ctx, stop := context.WithTimeout(context.Background(), diaryPatience)
	defer stop()
	var lost *diary.UnwrittenError
	errors.As(r.diary.Close(ctx), &lost)
	return lost
}

func amount(d pacer.Done) diary.Amount {
	return diary.Amount{Sets: d.Sets, Repetitions: d.Repetitions, Breaths: d.Breaths}
}

// KeepNextMorning writes into the diary whether symptoms were worse until the
// morning after the session id. at is zero where the clock is wrong.
func KeepNextMorning(path, id string, how sessions.NextMorning, at time.Time) error {
	d, err := diary.OpenExisting(path)
	if err != nil {
		return err
	}
	return errors.Join(d.NextMorning(id, how, at), d.Close())
}
