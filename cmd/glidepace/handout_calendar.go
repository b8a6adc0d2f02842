package main

import (
	"bytes"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"time"
	_ "time/tzdata" // the zones of the world, for computers that have none

	"github.com/spf13/cobra"

	"glidepace/cmd/glidepace/internal/console"
	"glidepace/pacer"
	"glidepace/sessions"
	"glidepace/sessions/calendar"
)

// reminderFlags are the flags of handout for a calendar of reminders.
type reminderFlags struct {
	name, zone, from string
	at               []string
	showTitle        bool
}

func (r *reminderFlags) add(cmd *cobra.Command) {
	f := cmd.Flags()
	f.StringVar(&r.name, "calendar", "", "write reminders for the patient's phone into the calendar file `NAME`.ics")
	f.StringSliceVar(&r.at, "at", nil, "the `times` of the reminders, such as 08:00,19:30 (default: evenly from 08:00 to 20:00)")
	f.StringVar(&r.zone, "zone", "", "the time `zone` of the reminders, such as Europe/Berlin (default: this computer's)")
	f.StringVar(&r.from, "from", "", "the first `day` of the reminders, as 2026-12-01 (default: the course's start in the session file, else today, from the next of the times on)")
	f.BoolVar(&r.showTitle, "show-title", false, "show the session's title in the reminders; without it they say only that it is time, since others may see the phone")
}

// check refuses flags that mean nothing together, and a file that is not for a calendar.
func (r *reminderFlags) check(cmd *cobra.Command, read ...string) error {
	for _, name := range []string{"at", "zone", "from", "show-title"} {
		if r.name == "" && cmd.Flag(name).Changed {
			return console.Usagef("--%s is about reminders: name their file too, such as --calendar reminders.ics", name)
		}
	}
	if r.name == "" {
		return nil
	}
	return checkOut(r.name, []string{".ics"}, read...)
}

// file returns the calendar file for a session, and what to say about it.
func (r *reminderFlags) file(t *pacer.Timeline) (outFile, string, error) {
	s := t.Session()
	if s.Dose == nil || s.Dose.Days == 0 {
		return outFile{}, "", console.Usagef("reminders need a dose in the session file, such as dose: {per_day: 2, weeks: 6}")
	}
	zone, err := r.location()
	if err != nil {
		return outFile{}, "", err
	}
	now := time.Now()
	first, err := r.firstDay(s.Dose, sessions.DateOf(now.In(zone)))
	if err != nil {
		return outFile{}, "", err
	}
	times, err := r.times(s.Dose)
	if err != nil {
		return outFile{}, "", err
	}
	reminders := calendar.Reminders{
		Course: s.Title + "\n" + s.Patient, First: first, Days: s.Dose.Days, Times: times, Zone: zone,
		Length: pacer.Seconds(t.Duration),
	}
	if r.from != "" || s.Dose.Start.IsZero() { // else the session file says which days the course has
		reminders.Begin = now
	}
	if r.showTitle {
		reminders.Title = s.Title
	}
	var b bytes.Buffer
	if err := calendar.Write(&b, reminders, now); err != nil {
		return outFile{}, "", err
	}
	var clock []string
	for _, at := range times {
		clock = append(clock, at.String())
	}
	from, to := reminders.Span()
	said := fmt.Sprintf("%s: %s from %s to %s, every day at %s (%s). Send it to the patient's phone and open it there.",
		r.name, sessions.Count(len(times)*s.Dose.Days, "reminder"), from, to, strings.Join(clock, ", "), zone)
	return outFile{r.name, b.Bytes()}, said, nil
}

// firstDay returns the first day of the reminders.
func (r *reminderFlags) firstDay(d *sessions.Dose, today sessions.Date) (sessions.Date, error) {
	if r.from != "" {
		first, err := sessions.ParseDate(r.from)
		if err != nil {
			err = console.Usagef("--from %q: a date is written as 2026-12-01", r.from)
		}
		return first, err
	}
	if d.Start.IsZero() {
		return today, nil
	}
	if last := d.Start.AddDays(d.Days - 1); today.DaysSince(last) > 0 {
		return d.Start, console.Usagef("by the session file the course ended on %s: give the first day of a new one, such as --from %s", last, today)
	}
	return d.Start, nil
}

// times returns the times of the day, as many as the dose asks for.
func (r *reminderFlags) times(d *sessions.Dose) ([]calendar.Time, error) {
	times := calendar.Spread(d.PerDayMin)
	if len(r.at) > 0 {
		times = nil
		for _, word := range r.at {
			at, err := calendar.ParseTime(strings.TrimSpace(word))
			if err != nil {
				return nil, console.Usagef("--at: %w", err)
			}
			times = append(times, at)
		}
	}
	if n := len(times); n < d.PerDayMin || n > d.PerDayMax {
		return nil, console.Usagef("--at has %s, and the dose is %s a day", sessions.Count(n, "time"), sessions.Span(d.PerDayMin, d.PerDayMax, "session"))
	}
	times, err := calendar.Arrange(times, d.Gap)
	if err != nil {
		err = console.Usagef("%w; choose the times with --at", err)
	}
	return times, err
}

// location returns the time zone of the reminders, by its IANA name.
func (r *reminderFlags) location() (*time.Location, error) {
	name := r.zone
	if name == "" {
		if name = localZone(); name == "" {
			return nil, console.Usagef("this computer does not say by name which time zone it is in: give the patient's, such as --zone Europe/Berlin")
		}
	}
	zone, err := time.LoadLocation(name)
	if err != nil || name == "Local" {
		return nil, console.Usagef("--zone %q is not known: a time zone is named after a continent and a city in it, such as Europe/Berlin or America/New_York", name)
	}
	return zone, nil
}

// localZone returns the name of this computer's time zone, "" where it does not say.
// A time.Location does not know it.
func localZone() string {
	if tz, ok := os.LookupEnv("TZ"); ok {
		if tz = strings.TrimPrefix(tz, ":"); tz == "" {
			return "UTC"
		}
		if !filepath.IsAbs(tz) {
			return tz
		}
		_, name, _ := strings.Cut(tz, "/zoneinfo/")
		return name
	}
	file, err := os.Readlink("/etc/localtime")
	if err != nil {
		return ""
	}
	_, name, _ := strings.Cut(file, "/zoneinfo/")
	return name
}
