// Package calendar writes the reminders of a course as a calendar file (iCalendar, RFC
// 5545) for the patient's phone: one daily event for each time of the day, with an
// alarm.
//
// The events are at local times, and the file brings the rules of its time zone for
// the whole course, so that 8 o'clock stays 8 o'clock when the clocks change.
//
// Others may see a phone, so an event says only that it is time for the exercises,
// unless the title is asked for.
//
// Importing a later file of the same course updates what is there: the first event of
// the day has the same UID in both, and so have the second and the rest. So new times
// replace the old ones. With fewer times a day than before, the last events stay until
// the course ends or they are deleted, because not every calendar takes a cancellation
// from a file.
package calendar

import (
	"crypto/sha256"
	"fmt"
	"io"
	"time"

	ics "github.com/arran4/golang-ical"

	"glidepace/sessions"
	"glidepace/sessions/plaintext"
)

// Reminders is what a calendar file is made from.
type Reminders struct {
	// Course tells the course from others that may be in the same calendar. The UIDs
	// are made from it, and do not disclose it.
	Course string
	Title  string // what the events are called; "" for neutral words
	First  sessions.Date
	Begin  time.Time      // a time of the first day that is before it begins a day later; zero: none does
	Days   int            // how often each time of the day comes
	Times  []Time         // of the day, in order
	Zone   *time.Location // by its IANA name
	Length time.Duration  // of a session
}

const (
	neutral     = "Time for your exercises"
	description = "Do them as your clinician taught you. If symptoms come or grow, stop."
	local       = "20060102T150405" // RFC 5545 §3.3.5, form 1
)

// Write writes the calendar file. It is made now: of two files of a course, the later
// one holds.
func Write(w io.Writer, r Reminders, now time.Time) error {
	cal := ics.NewCalendar()
	cal.SetProductId("-//glidepace//reminders//EN")
	first, last := r.Span()
	addZone(cal, r.Zone, r.at(first, r.Times[0]), r.at(last, r.Times[len(r.Times)-1]))
	for i, at := range r.Times {
		r.addEvent(cal, i, at, now)
	}
	return cal.SerializeTo(w, ics.WithNewLine("\r\n"), ics.WithLineLength(75))
}

// Span returns the first day and the last day with a reminder.
func (r Reminders) Span() (first, last sessions.Date) {
	return r.firstOf(r.Times[len(r.Times)-1]), r.firstOf(r.Times[0]).AddDays(r.Days - 1)
}

// firstOf returns the first day of a time.
func (r Reminders) firstOf(t Time) sessions.Date {
	if r.at(r.First, t).Before(r.Begin) {
		return r.First.AddDays(1)
	}
	return r.First
}

// at returns the moment of a time on a day.
func (r Reminders) at(d sessions.Date, t Time) time.Time {
	moment, err := time.ParseInLocation(time.DateOnly+" 15:04", d.String()+" "+t.String(), r.Zone)
	if err != nil {
		panic(err) // it was written here
	}
	return moment
}

// addEvent adds the daily event of a time, the number i of the day.
func (r Reminders) addEvent(cal *ics.Calendar, i int, at Time, now time.Time) {
	summary := neutral
	if r.Title != "" {
		summary = plaintext.Line(r.Title)
	}
	e := cal.AddEvent(fmt.Sprintf("%x-%d", sha256.Sum256([]byte(r.Course)), i+1))
	e.SetDtStampTime(now)
	e.SetModifiedAt(now)
	// Nobody counts the changes of a file, and a later minute is a higher number.
	e.SetSequence(int(now.Unix() / 60))
	e.SetProperty(ics.ComponentPropertyDtStart, r.firstOf(at).Format("20060102")+"T"+at.Format("150405"), ics.WithTZID(r.Zone.String()))
	e.SetProperty(ics.ComponentPropertyDuration, fmt.Sprintf("PT%dM", int((r.Length+time.Minute-1)/time.Minute)))
	e.SetProperty(ics.ComponentPropertyRrule, fmt.Sprintf("FREQ=DAILY;COUNT=%d", r.Days))
	e.SetSummary(summary)
	e.SetDescription(description)
	e.SetClass(ics.ClassificationPrivate)
	e.SetProperty(ics.ComponentPropertyTransp, "TRANSPARENT") // others may still make an appointment then
	alarm := e.AddAlarm()
	alarm.SetAction(ics.ActionDisplay)
	alarm.SetTrigger("PT0S")
	alarm.SetProperty(ics.ComponentPropertyDescription, summary)
}
