package main

import (
	"encoding/json"
	"errors"
	"fmt"
	"os"
	"slices"
	"strings"
	"time"

	"github.com/spf13/cobra"

	"glidepace/cmd/glidepace/internal/console"
	"glidepace/pacer"
	"glidepace/sessions"
	"glidepace/sessions/diary"
	"glidepace/sessions/progress"
)

// past is what the diary knows of a session file's patient.
type past struct {
	entries []progress.Entry
	today   int           // sessions that count towards today's dose
	done    int           // sessions of this prescription in which something was done
	unrated bool          // the last one to be completed was not wholly rated
	last    time.Time     // when the latest one started; zero where none has a time
	day     sessions.Date // that was asked for; zero where it is not known or the clock is wrong
	behind  time.Time     // the clock is wrong: there was a session at this later time; else zero
}

// lookBack reads the diary for a session file: the sessions of its patient
// code, else those of its title that have no code either; on a day, zero where
// it is not known. Without a diary there is no past.
func lookBack(o diary.Options, path string, s *sessions.Session, day sessions.Date) (past, error) {
	d, err := o.OpenExisting(path)
	var none *diary.NoDiaryError
	if errors.As(err, &none) {
		return past{day: day}, nil
	}
	if err != nil {
		return past{}, err
	}
	defer d.Close()
	filter := diary.Filter{Patient: s.Patient}
	neck := slices.ContainsFunc(s.Exercises, func(e sessions.Exercise) bool { return e.Glide.Neck })
	if s.Patient == "" && !neck { // a warning sign counts in every file
		filter.Title = s.Title
	}
	list, err := d.List(filter)
	if err != nil {
		return past{}, err
	}
	p := past{day: day}
	key, date := diary.Key{Patient: s.Patient, Title: s.Title}, ""
	if !day.IsZero() {
		if p.behind, err = d.ClockBehind(day); err != nil {
			return past{}, err
		}
	}
	if !p.behind.IsZero() {
		p.day = sessions.Date{}
	}
	if !p.day.IsZero() {
		date = p.day.String()
	}
	if p.today, err = d.CountOn(date, key); err != nil {
		return past{}, err
	}
	for _, e := range list {
		if e.Patient != s.Patient {
			continue
		}
		if s.Patient == "" && e.Title != s.Title {
			if e.Outcome != "" {
				other := progressEntry(e)
				other.OtherFile = true
				p.entries = append(p.entries, other)
			}
			continue
		}
		if e.Prescription == s.Hash() && e.Done.Repetitions > 0 {
			p.done++
		}
		if e.Outcome == sessions.Completed && e.Felt == "" {
			p.unrated = !rated(e.Before, e.After)
		}
		if !e.WrongDay {
			p.last = latest(p.last, e.Started)
		}
		if e.Outcome != "" {
			p.entries = append(p.entries, progressEntry(e))
		}
	}
	return p, nil
}

// fullPostures is how many sessions of a prescription begin with the posture in
// full, where the file leaves it open.
const fullPostures = 3

// posture returns the session with its posture settled by what was done of it.
func (p past) posture(s *sessions.Session) *sessions.Session {
	if s.Posture != sessions.PostureAuto || p.done < fullPostures {
		return s
	}
	short := *s
	short.Posture = sessions.PostureShort
	return &short
}

// clock returns now, zero where the clock is wrong.
func (p past) clock(now time.Time) time.Time {
	if !p.behind.IsZero() {
		return time.Time{}
	}
	return now
}

// clockWords says that the clock is wrong, "" where it is not.
func (p past) clockWords(now time.Time) string {
	if p.behind.IsZero() {
		return ""
	}
	return fmt.Sprintf("The computer's date seems wrong: it says %s, but there was a session on %s. Until it is set, sessions are kept without a day.",
		sessions.DateOf(now), sessions.DateOf(p.behind))
}

// todayIs looks back again once somebody has said that it is the day that the
// clock says: then it was wrong before.
func (p past) todayIs(o diary.Options, path string, s *sessions.Session, day sessions.Date) (past, error) {
	d, err := o.OpenExisting(path)
	if err == nil {
		err = errors.Join(d.TodayIs(day, time.Now()), d.Close())
	}
	if err != nil {
		return p, err
	}
	return lookBack(o, path, s, day)
}

// dated returns the diary's row of a session that begins now, without a day
// where the clock is wrong.
func (p past) dated(e diary.Session) diary.Session {
	if !p.behind.IsZero() {
		e.Boot = &diary.Boot{NotBefore: p.behind, Clock: e.Started}
	}
	return e
}

// progressEntry is what the rules of progress take from a session of the diary.
func progressEntry(s diary.Session) progress.Entry {
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

// plan is what the diary keeps of how today's session came about.
type plan struct {
	Level pacer.Level     `json:"level"`
	Rules *progress.Rules `json:"rules"`
	// Match is the way of matching breath and movement that was asked for in
	// place of the prescription's; "" for the prescription's own.
	Match string `json:"match,omitempty"`
	Neck  bool   `json:"neck,omitempty"` // it had a neck glide
}

func planOf(s *sessions.Session, l pacer.Level, match string) string {
	rules := progress.RulesOf(s)
	neck := !l.NoNeck && slices.ContainsFunc(s.Exercises, func(e sessions.Exercise) bool { return e.Glide.Neck })
	text, err := json.Marshal(plan{Level: l, Rules: &rules, Match: match, Neck: neck})
	if err != nil { // no value of a plan makes that
		return ""
	}
	return string(text)
}

// todayFlags adds --today and --diary to a command that looks at a file.
func todayFlags(cmd *cobra.Command, today *bool, path *string) {
	cmd.Flags().BoolVar(today, "today", false, "today's session, as the diary and the file's rules make it")
	cmd.Flags().StringVar(path, "diary", "", "the diary's `file` for --today (default in the XDG state folder)")
}

// todays is today's session, as the diary and the file's rules make it.
type todays struct {
	*pacer.Timeline
	why     string   // it is what it is
	against []string // what stands against beginning it now
	shut    bool     // the neck glide is
}

// words are why and against in one.
func (t todays) words() string { return strings.Join(append([]string{t.why}, t.against...), " ") }

// todaysTimeline lays out today's session of the one prescribed, without the
// neck glide where that is shut and something else is left.
func todaysTimeline(prescribed *pacer.Timeline, path string) (t todays, err error) {
	s, now := prescribed.Session(), time.Now()
	if _, err := os.Stat(path); path != "" && errors.Is(err, os.ErrNotExist) {
		return t, console.Usagef("there is no diary %q", path)
	}
	p, err := lookBack(diary.Options{}, diaryPath(path), s, sessions.DateOf(now))
	if err != nil {
		return t, err
	}
	a := progress.Today(s, p.entries, p.day)
	t.why = a.Why
	if words := p.clockWords(now); words != "" {
		t.against = append(t.against, words)
	}
	for _, h := range progress.Gate(s, p.entries, p.clock(now)) {
		switch h.Kind {
		case progress.AskMorning:
			continue
		case progress.NeckShut:
			t.shut = true
		}
		t.against = append(t.against, h.Message(p.clock(now)))
	}
	if a.Level != pacer.Prescribed(s) && p.unrated {
		t.against = append(t.against, unratedWords)
	}
	t.Timeline, _, err = todayAt(s, p, p.day, t.shut)
	if errors.Is(err, pacer.ErrOnlyNeck) {
		t.Timeline, _, err = todayAt(s, p, p.day, false)
	}
	return t, err
}

// todayAt lays out the session of a day, zero where it is not known, without the
// neck glide where noNeck is set.
func todayAt(s *sessions.Session, p past, day sessions.Date, noNeck bool) (*pacer.Timeline, progress.Plan, error) {
	a := progress.Today(s, p.entries, day)
	a.Level.NoNeck = noNeck
	t, err := pacer.NewAt(p.posture(s), a.Level)
	return t, a, err
}

func diaryPath(given string) string {
	if given == "" {
		return diary.DefaultPath()
	}
	return given
}
