package main

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

// How long the diary may keep a session from beginning and, at the end, the
// program from ending.
const diaryPatience = 3 * time.Second

// book writes a running session into the diary.
type book struct {
	record       *diary.Recorder
	began, ended instant // of the session
	settleWithin time.Duration
	paused       bool // or stopped
}

var _ pacer.Follower = (*book)(nil)

// instant is when something was, for several goroutines.
type instant struct{ atomic.Pointer[time.Time] }

// since returns the time since then, 0 before it was.
func (i *instant) since() time.Duration {
	if at := i.Load(); at != nil {
		return time.Since(*at)
	}
	return 0
}

// newBook begins the session's row in the diary at path. Trouble is told; it
// stops nothing.
func newBook(o diary.Options, path string, t *pacer.Timeline, entry diary.Session, trouble func(error)) *book {
	return &book{
		settleWithin: t.Session().Ease.SettleWithin,
		record:       o.Record(path, entry, diaryPatience, trouble),
	}
}

// Follow implements pacer.Follower.
func (b *book) Follow(e pacer.Event) {
	b.began.CompareAndSwap(nil, &e.At)
	note := diary.Event{At: max(0, e.At.Sub(*b.began.Load())), Done: amount(e.Done)}
	if e.Step < len(e.Timeline.Steps) {
		s := e.Timeline.Steps[e.Step]
		note.Exercise, note.Side, note.Set, note.Rep = s.Exercise, s.Side.String(), s.Set, s.Rep
	}
	defer func() { b.paused = e.Kind == pacer.Paused || e.Kind == pacer.Answered }()
	switch e.Kind {
	case pacer.Began:
		if !b.paused {
			return // the row says that it began, enough that it goes on
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
		b.ended.Store(&e.At)
		b.record.End(diary.Ending{When: time.Now(), At: note.At, Outcome: e.Outcome, Done: note.Done})
		return
	default:
		return
	}
	b.record.Event(note)
}

// answerDetail is what became of a stop, and what it goes on with.
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

// sound writes down that the sound was lost or is back.
func (b *book) sound(kind diary.Kind) {
	b.record.Event(diary.Event{Kind: kind, At: b.began.since()})
}

// said writes down what it was that ended the session at its last stop;
// NoSymptom for nothing of what was asked for: then it was ended early.
func (b *book) said(what sessions.Symptom) {
	b.record.Event(diary.Event{At: b.began.since()}.With(diary.Answer{Reply: cmp.Or(string(what), diary.Nothing), Symptom: what}))
}

// stopped writes down a stop that was told of only after the session.
func (b *book) stopped() {
	b.record.Event(diary.Event{Kind: diary.Stopped, At: b.began.since()})
}

// rated writes down the ratings after the session; nothing where nothing was
// rated.
func (b *book) rated(r sessions.Ratings) {
	if !r.IsZero() {
		b.record.Event(diary.Event{At: b.began.since()}.With(diary.Rating{When: diary.AfterSession, Ratings: r}))
	}
}

// flush waits until all is written, but not for ever.
func (b *book) flush() {
	ctx, stop := context.WithTimeout(context.Background(), diaryPatience)
	defer stop()
	b.record.Flush(ctx)
}

// settled writes down whether, and after how long, what rose was back.
func (b *book) settled(back bool, after time.Duration) {
	b.record.Event(diary.Event{At: b.began.since()}.With(diary.Settling{Settled: back, After: after.Seconds()}))
}

// felt writes down how symptoms after the session compare with those before.
func (b *book) felt(symptoms sessions.Felt) {
	b.record.Event(diary.Event{At: b.began.since()}.With(diary.Feeling{Symptoms: symptoms}))
}

// close closes the diary and returns what could not be written, nil where all
// could.
func (b *book) close() *diary.UnwrittenError {
	ctx, stop := context.WithTimeout(context.Background(), diaryPatience)
	defer stop()
	var lost *diary.UnwrittenError
	errors.As(b.record.Close(ctx), &lost)
	return lost
}

func amount(d pacer.Done) diary.Amount {
	return diary.Amount{Sets: d.Sets, Repetitions: d.Repetitions, Breaths: d.Breaths}
}
