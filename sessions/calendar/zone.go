package calendar

import (
	"fmt"
	"time"

	ics "github.com/arran4/golang-ical"
)

// addZone adds the time zone with its offsets from one moment to another: one part for
// each, with the moment when it came into force. Rules for all times would say more
// than anyone knows of the years to come.
func addZone(cal *ics.Calendar, zone *time.Location, from, to time.Time) {
	tz := cal.AddTimezone(zone.String())
	for at := from; ; {
		start, end := at.ZoneBounds()
		name, offset := at.Zone()
		before := offset
		if start.IsZero() { // it was never another
			start = time.Unix(0, 0)
		} else {
			_, before = start.Add(-time.Second).Zone()
		}
		var base *ics.ComponentBase
		if at.IsDST() {
			daylight := &ics.Daylight{}
			tz.Components, base = append(tz.Components, daylight), &daylight.ComponentBase
		} else {
			base = &tz.AddStandard().ComponentBase
		}
		// The moment is told by a clock that has not been changed yet.
		base.SetProperty(ics.ComponentPropertyDtStart, start.UTC().Add(time.Duration(before)*time.Second).Format(local))
		base.SetProperty(ics.ComponentProperty(ics.PropertyTzoffsetfrom), utcOffset(before))
		base.SetProperty(ics.ComponentProperty(ics.PropertyTzoffsetto), utcOffset(offset))
		base.SetProperty(ics.ComponentProperty(ics.PropertyTzname), name)
		if end.IsZero() || end.After(to) {
			return
		}
		at = end
	}
}

// utcOffset writes seconds as RFC 5545 §3.3.14 does.
func utcOffset(seconds int) string {
	sign := '+'
	if seconds < 0 {
		sign, seconds = '-', -seconds
	}
	text := fmt.Sprintf("%c%02d%02d", sign, seconds/3600, seconds/60%60)
	if seconds%60 != 0 {
		text += fmt.Sprintf("%02d", seconds%60)
	}
	return text
}
