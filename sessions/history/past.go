// Package history reads a patient's past sessions from the diary and works out
// today's. It says where the patient stands in the dose, and makes the diary's entry
// of a session that begins.
package history

import (
	"errors"
	"fmt"
	"slices"
	"time"

	"glidepace/pacer"
	"glidepace/sessions"
	"glidepace/sessions/diary"
	"glidepace/sessions/progress"
)

// Past is what the diary knows of the patient of a session file.
type Past struct {
	Entries   []progress.Entry
	DoneToday int           // sessions that count for today's dose
	Done      int           // sessions of this prescription with at least one repetition
	Last      time.Time     // start of the latest session; zero if none has a time
	Day       sessions.Date // today; zero if it is not known or the clock is wrong
	Warnings  []string      // what of the sessions cannot be read
	Behind    time.Time     // if the clock is wrong: a later moment that the diary knows

	patient string // the patient code as the diary has it
	unrated bool   // the last completed session was not rated in full
}

// Read reads the past of a session file on a day, zero if the day is not known:
// the sessions with its patient code or, without a code, those with its title.
// Without a diary the past is empty.
func Read(o diary.Options, path string, s *sessions.Session, day sessions.Date) (p Past, err error) {
	p.Day = day
	d, err := o.OpenExisting(path)
	if _, none := errors.AsType[*diary.NoDiaryError](err); none {
		return p, nil
	}
	if err != nil {
		return p, err
	}
	defer d.Close()
	// A code that is typed in small letters is still that of the same person, whose
	// warning signs count.
	if p.patient, _, err = d.PatientCode(s.Patient); errors.As(err, new(*diary.PatientError)) {
		p.patient, err = s.Patient, nil // several are alike
	}
	if err != nil {
		return p, err
	}
	if !day.IsZero() {
		if p.Behind, err = d.ClockBehind(day); err != nil {
			return p, err
		}
	}
	if !p.Behind.IsZero() {
		p.Day = sessions.Date{}
	}
	if !p.Day.IsZero() {
		if p.DoneToday, err = d.CountOn(p.Day.String(), diary.Key{Patient: p.patient, Title: s.Title}); err != nil {
			return p, err
		}
	}
	filter := diary.Filter{Patient: p.patient, NoPatient: s.Patient == ""}
	if s.Patient == "" && !hasNeck(s) { // a warning sign counts in every file
		filter.Title = s.Title
	}
	for e, err := range d.Each(filter) {
		if err != nil {
			return p, err
		}
		p.add(s, e)
	}
	return p, nil
}

// add adds a session of the patient to the past of s.
func (p *Past) add(s *sessions.Session, e diary.Session) {
	if w := e.Warning(); w != "" {
		p.Warnings = append(p.Warnings, w)
	}
	entry := ProgressEntry(e)
	entry.OtherFile = s.Patient == "" && e.Title != s.Title
	if e.Outcome != "" { // it is over
		p.Entries = append(p.Entries, entry)
	}
	if entry.OtherFile {
		return
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
}

func hasNeck(s *sessions.Session) bool {
	return slices.ContainsFunc(s.Exercises, func(e sessions.Exercise) bool { return e.Glide.Neck })
}

// fullPostures is how many sessions of a prescription have the full posture
// before the short one, if the file does not say which.
const fullPostures = 3

// Posture returns s with the short posture if the patient knows the full one.
func (p Past) Posture(s *sessions.Session) *sessions.Session {
	if s.Posture != sessions.PostureAuto || p.Done < fullPostures {
		return s
	}
	short := *s
	short.Posture = sessions.PostureShort
	return &short
}

// Clock returns now, or zero if the clock is wrong.
func (p Past) Clock(now time.Time) time.Time {
	if !p.Behind.IsZero() {
		return time.Time{}
	}
	return now
}

// ClockWords says that the clock is wrong; "" if it is not.
func (p Past) ClockWords(now time.Time) string {
	if p.Behind.IsZero() {
		return ""
	}
	return fmt.Sprintf("The computer's date seems wrong: it says %s, but there was a session on %s. Until it is set, sessions are kept without a day.",
		sessions.DateOf(now), sessions.DateOf(p.Behind))
}

// TodayIs reads the past again after the patient has said that the clock is right
// today. Then it was wrong at the later session that the diary has.
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

// ProgressEntry returns what the rules of progress need of a session.
func ProgressEntry(s diary.Session) progress.Entry {
	e := progress.Entry{
		ID: s.ID, Start: s.Started, Number: s.Number, Diary: s.Diary, Seq: s.Place, Paced: s.Source != diary.FromPaper,
		Prescription: s.Prescription, Cleared: s.Cleared,
		Repetitions: s.Done.Repetitions, Outcome: s.Outcome, EndedBy: s.EndedBy, NotInTime: s.NotInTime,
		Before: s.Before, After: s.After, Felt: s.Felt, NextMorning: s.NextMorning,
	}
	for _, stop := range s.Stops {
		e.Stops = append(e.Stops, progress.Stop{Symptom: stop.Symptom, InSet: stop.InSet})
	}
	if s.Boot != nil {
		e.Start = s.Boot.NotBefore
	}
	e.Date, _ = sessions.ParseDate(s.Date) // zero where there is none
	if s.WrongDay {
		e.Start, e.Date = time.Time{}, sessions.Date{}
	}
	if p, ok := ReadPlan(s.Plan); ok {
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
