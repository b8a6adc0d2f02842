// Package history is the diary as the rules of progress see it: what a patient
// has done, where they stand in their dose, what today's session is, and the
// diary's entry of a session that begins.
package history

import (
	"encoding/json"
	"errors"
	"fmt"
	"slices"
	"time"

	"glidepace/pacer"
	"glidepace/sessions"
	"glidepace/sessions/diary"
	"glidepace/sessions/progress"
)

// Past is what the diary knows of a session file's patient.
type Past struct {
	Entries   []progress.Entry
	DoneToday int           // sessions that count towards today's dose
	Done      int           // sessions of this prescription in which something was done
	unrated   bool          // the last one to be completed was not wholly rated
	Last      time.Time     // when the latest one started; zero where none has a time
	Day       sessions.Date // that was asked for; zero where it is not known or the clock is wrong
	Behind    time.Time     // the clock is wrong: there was a session at this later time; else zero
}

// Read reads the diary for a session file: the sessions of its patient
// code, else those of its title that have no code either; on a day, zero where
// it is not known. Without a diary there is no past.
func Read(o diary.Options, path string, s *sessions.Session, day sessions.Date) (Past, error) {
	d, err := o.OpenExisting(path)
	var none *diary.NoDiaryError
	if errors.As(err, &none) {
		return Past{Day: day}, nil
	}
	if err != nil {
		return Past{}, err
	}
	defer d.Close()
	filter := diary.Filter{Patient: s.Patient}
	neck := slices.ContainsFunc(s.Exercises, func(e sessions.Exercise) bool { return e.Glide.Neck })
	if s.Patient == "" && !neck { // a warning sign counts in every file
		filter.Title = s.Title
	}
	list, err := d.List(filter)
	if err != nil {
		return Past{}, err
	}
	p := Past{Day: day}
	key, date := diary.Key{Patient: s.Patient, Title: s.Title}, ""
	if !day.IsZero() {
		if p.Behind, err = d.ClockBehind(day); err != nil {
			return Past{}, err
		}
	}
	if !p.Behind.IsZero() {
		p.Day = sessions.Date{}
	}
	if !p.Day.IsZero() {
		date = p.Day.String()
	}
	if p.DoneToday, err = d.CountOn(date, key); err != nil {
		return Past{}, err
	}
	for _, e := range list {
		if e.Patient != s.Patient {
			continue
		}
		if s.Patient == "" && e.Title != s.Title {
			if e.Outcome != "" {
				other := ProgressEntry(e)
				other.OtherFile = true
				p.Entries = append(p.Entries, other)
			}
			continue
		}
		if e.Prescription == s.Hash() && e.Done.Repetitions > 0 {
			p.Done++
		}
		if e.Outcome == sessions.Completed && e.Felt == "" {
			p.unrated = !e.Before.Whole() || !e.After.Whole()
		}
		if !e.WrongDay && e.Started.After(p.Last) {
			p.Last = e.Started
		}
		if e.Outcome != "" {
			p.Entries = append(p.Entries, ProgressEntry(e))
		}
	}
	return p, nil
}

// fullPostures is how many sessions of a prescription begin with the posture in
// full, where the file leaves it open.
const fullPostures = 3

// Posture returns the session with its posture settled by what was done of it.
func (p Past) Posture(s *sessions.Session) *sessions.Session {
	if s.Posture != sessions.PostureAuto || p.Done < fullPostures {
		return s
	}
	short := *s
	short.Posture = sessions.PostureShort
	return &short
}

// Clock returns now, zero where the clock is wrong.
func (p Past) Clock(now time.Time) time.Time {
	if !p.Behind.IsZero() {
		return time.Time{}
	}
	return now
}

// ClockWords says that the clock is wrong, "" where it is not.
func (p Past) ClockWords(now time.Time) string {
	if p.Behind.IsZero() {
		return ""
	}
	return fmt.Sprintf("The computer's date seems wrong: it says %s, but there was a session on %s. Until it is set, sessions are kept without a day.",
		sessions.DateOf(now), sessions.DateOf(p.Behind))
}

// TodayIs looks back again once somebody has said that it is the day that the
// clock says: then it was wrong before.
func (p Past) TodayIs(o diary.Options, path string, s *sessions.Session, day sessions.Date) (Past, error) {
	d, err := o.OpenExisting(path)
	if err == nil {
		err = errors.Join(d.TodayIs(day, time.Now()), d.Close())
	}
	if err != nil {
		return p, err
	}
	return Read(o, path, s, day)
}

// ProgressEntry is what the rules of progress take from a session of the diary.
func ProgressEntry(s diary.Session) progress.Entry {
	e := progress.Entry{
		ID: s.ID, Start: s.Started, Number: s.Number, Diary: s.Diary, Seq: s.Place, Paced: s.Source != diary.FromPaper,
		Prescription: s.Prescription, Cleared: s.Cleared,
		Repetitions: s.Done.Repetitions, Outcome: s.Outcome, EndedBy: s.EndedBy, NotInTime: s.NotInTime,
		Before: s.Before, After: s.After, Felt: s.Felt, NextMorning: s.NextMorning,
	}
	for _, stop := range s.Stops {
		e.Stops = append(e.Stops, progress.Stop(stop))
	}
	if s.Boot != nil {
		e.Start = s.Boot.NotBefore
	}
	e.Date, _ = sessions.ParseDate(s.Date) // zero where there is none
	if s.WrongDay {
		e.Start, e.Date = time.Time{}, sessions.Date{}
	}
	var p plan
	if json.Unmarshal([]byte(s.Plan), &p) == nil {
		e.Rules, e.Neck = p.Rules, p.Neck
	}
	if s.Settling != nil {
		e.NotSettled = !s.Settling.Settled
		if s.Settling.Settled {
			e.Settled = pacer.Seconds(s.Settling.After)
		}
	}
	return e
}
