package progress

import (
	"fmt"
	"slices"
	"time"

	"glidepace/sessions"
)

// StrongToday is the rating before a session from which on rest is better today. From
// memory; common practice, no source.
const StrongToday = 8

// tooHard is how many sessions in a row may be stopped or uncomfortable before the
// patient is to speak to the clinician. Common practice, no source.
const tooHard = 3

// HurdleKind says what stands against a session, the most serious first.
type HurdleKind uint8

const (
	AskClinician HurdleKind = iota // only words: session after session was hard; it has no Entry
	RestToday                      // a session of today calls for rest until tomorrow
	NotBackYet                     // a session on an earlier or unknown day did: somebody who is not back to where it was tells the clinician
	NeckShut                       // a warning sign ended a session: no neck glide until the clinician has cleared it or the file changes
	NoneDue                        // the day's sessions are done, or the course has not begun or is over; it has no Entry
	TooSoon                        // the last session began too recently
	AskMorning                     // only a question, before the first session of a day: how the Entry felt until the next morning
)

// Hurdle is something that stands against beginning a session.
type Hurdle struct {
	Kind  HurdleKind
	Entry Entry // the session that it comes from

	message string // of NoneDue and TooSoon
}

// Gate returns what stands against beginning a session of s now, the most serious first.
// The entries are as for [Today]. now is zero where the day is not known: then it finds
// only what does not depend on it.
func Gate(s *sessions.Session, entries []Entry, now time.Time) []Hurdle {
	var list []Hurdle
	add := func(k HurdleKind, e Entry) { list = append(list, Hurdle{Kind: k, Entry: e}) }
	var today sessions.Date
	if !now.IsZero() {
		today = sessions.DateOf(now)
	}
	ofAnyFile := ordered(entries)
	ofThisFile := slices.DeleteFunc(slices.Clone(ofAnyFile), func(e Entry) bool { return e.OtherFile })
	var last, rest Entry // the last in which something was done or felt; the last of today that calls for rest
	for _, e := range ofThisFile {
		if e.Repetitions == 0 && e.Outcome != sessions.Symptoms {
			continue
		}
		last = e
		if !today.IsZero() && e.Date == today && e.endedBadly() {
			rest = e // all day long, whatever is done after it
		}
	}
	by, shut := neckShut(s, ofAnyFile)
	if climbed(s, ofThisFile, today).hard >= tooHard {
		add(AskClinician, Entry{})
	}
	if !today.IsZero() && last.Date == today && last.felt(sessions.WarningSign) && !shut {
		rest = last
	}
	switch {
	case rest.Outcome != "":
		add(RestToday, rest)
	case last.endedBadly():
		add(NotBackYet, last)
	}
	if shut {
		add(NeckShut, by)
	}
	if today.IsZero() {
		return list
	}
	if message := noneDue(s.Dose, ofThisFile, today); message != "" {
		list = append(list, Hurdle{Kind: NoneDue, message: message})
	}
	if e, message := tooSoon(s.Dose, ofThisFile, now); message != "" {
		list = append(list, Hurdle{Kind: TooSoon, Entry: e, message: message})
	}
	rated := !last.Before.IsZero() || !last.After.IsZero()
	if rated && !last.endedBadly() && last.NextMorning == "" && !last.day.IsZero() && last.day.DaysSince(today) < 0 {
		add(AskMorning, last)
	}
	return list
}

// endedBadly reports whether a session calls for rest on its day and a question before
// the next. A warning sign shuts the neck instead, if there was a neck glide.
func (e Entry) endedBadly() bool {
	return e.NotSettled || e.Outcome == sessions.Symptoms && (!e.felt(sessions.WarningSign) || !e.Neck)
}

// neckShut returns the session that forbids neck glides now. A warning sign forbids them
// in every file used up to then. A file first used after it counts as a new
// prescription, and is open.
func neckShut(s *sessions.Session, ofAnyFile []Entry) (by Entry, shut bool) {
	neck := func(e sessions.Exercise) bool { return e.Glide.Neck }
	if !slices.ContainsFunc(s.Exercises, neck) {
		return by, false
	}
	hash, used := s.Hash(), false
	for _, e := range ofAnyFile {
		used = used || e.Prescription == hash
		if e.Cleared {
			shut = false
		}
		if e.felt(sessions.WarningSign) && used {
			by, shut = e, true
		}
	}
	return by, shut
}

// noneDue says why the dose has no session left today; "" where it has one.
func noneDue(d *sessions.Dose, all []Entry, today sessions.Date) string {
	if d == nil {
		return ""
	}
	if day := today.DaysSince(d.Start) + 1; !d.Start.IsZero() {
		switch {
		case day < 1:
			return fmt.Sprintf("The course begins on %s.", d.Start)
		case d.Days > 0 && day > d.Days:
			return fmt.Sprintf("The course ended on %s.", d.Start.AddDays(d.Days-1))
		}
	}
	done := 0
	for _, e := range all {
		if e.Date == today && e.Repetitions > 0 {
			done++
		}
	}
	switch {
	case done < d.PerDayMax:
		return ""
	case d.PerDayMax == 1:
		return "Today's one session is done."
	}
	return fmt.Sprintf("Today's %s sessions are done.", word(d.PerDayMax))
}

// tooSoon returns a session that began less than the gap of the dose ago, and says so;
// "" where there is none.
func tooSoon(d *sessions.Dose, all []Entry, now time.Time) (Entry, string) {
	gap := sessions.DefaultGap
	if d != nil {
		gap = d.Gap
	}
	for _, e := range slices.Backward(all) {
		since := now.Sub(e.Start)
		if e.Repetitions > 0 && !e.Date.IsZero() && !e.Start.IsZero() && since >= 0 && since < gap {
			return e, fmt.Sprintf("The last session began at %s. The next should not begin before %s.",
				clock(e.Start, now), clock(e.Start.Add(gap), now))
		}
	}
	return Entry{}, ""
}

// Message says what stands against the session, "" for AskMorning; Question is
// what to ask about it.
func (h Hurdle) Message(now time.Time) string {
	switch h.Kind {
	case AskClinician:
		return "Several sessions in a row were stopped, cut short or uncomfortable. Speak to your clinician before you do another."
	case RestToday:
		at := ""
		if !h.Entry.Start.IsZero() {
			at = " at " + clock(h.Entry.Start, now)
		}
		return fmt.Sprintf("The session%s today %s. Your clinician's plan is to rest until tomorrow.", at, h.Entry.ending())
	case NotBackYet:
		return fmt.Sprintf("The last session%s %s.", onDay(h.Entry.day, now), h.Entry.ending())
	case NeckShut:
		return fmt.Sprintf("A session%s was stopped for a warning sign. No neck glide until your clinician has cleared it.", onDay(h.Entry.day, now))
	}
	return h.message
}

// Question is the question after the message, to be answered with yes or no; "" where a
// yes would change nothing.
func (h Hurdle) Question() string {
	switch h.Kind {
	case NotBackYet:
		return "Is everything back to where it was?"
	case NeckShut, AskClinician:
		return ""
	case AskMorning:
		return "Still worse the morning after the last session?"
	}
	return "Begin all the same?"
}

// ending says how the session ended, as the end of a sentence.
func (e Entry) ending() string {
	switch {
	case e.felt(sessions.Pain):
		return "ended with pain"
	case e.felt(sessions.Breathing):
		return "left you light-headed or short of breath"
	case e.felt(sessions.WarningSign):
		return "was stopped for a warning sign"
	case e.NotSettled, e.NotInTime:
		return "ended with symptoms that did not settle"
	case e.felt(sessions.Tingling):
		return "ended with tingling or numbness"
	}
	return "was stopped"
}

// onDay is " today", " yesterday", " on Tuesday" or, from a week ago on, " on" and the
// date; "" where the day is not known.
func onDay(d sessions.Date, now time.Time) string {
	days := sessions.DateOf(now).DaysSince(d)
	switch {
	case d.IsZero():
		return ""
	case days == 0:
		return " today"
	case days == 1:
		return " yesterday"
	case days > 1 && days < 7:
		return " on " + now.AddDate(0, 0, -days).Weekday().String()
	}
	return " on " + d.String()
}

func clock(t, now time.Time) string { return t.In(now.Location()).Format("15:04") }
