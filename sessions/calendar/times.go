package calendar

import (
	"fmt"
	"slices"
	"time"
)

// Time is a time of the day, from midnight.
type Time time.Duration

// ParseTime reads a time such as 08:00 or 19:30.
func ParseTime(s string) (Time, error) {
	t, err := time.Parse("15:04", s)
	if err != nil {
		return 0, fmt.Errorf("%q is not a time of the day, such as 08:00 or 19:30", s)
	}
	return Time(t.Hour())*Time(time.Hour) + Time(t.Minute())*Time(time.Minute), nil
}

// Format writes the time in a layout of package time.
func (t Time) Format(layout string) string {
	return time.Time{}.Add(time.Duration(t)).Format(layout)
}

// String writes the time as ParseTime reads it.
func (t Time) String() string { return t.Format("15:04") }

// Spread returns n times of the day, evenly from 8 in the morning to 8 in the evening.
func Spread(n int) []Time {
	const morning, evening = Time(8 * time.Hour), Time(20 * time.Hour)
	times := []Time{morning}
	for i := 1; i < n; i++ {
		times = append(times, morning+(evening-morning)*Time(i)/Time(n-1))
	}
	return times
}

// CloseError is the error for times of the day that are too close to each other.
type CloseError struct {
	Before, After Time
	Gap           time.Duration // from the start of one session to the next
}

func (e *CloseError) Error() string {
	if e.Before == e.After {
		return e.Before.String() + " is there twice"
	}
	return fmt.Sprintf("%s and %s are too close: the file asks for %s from one session to the next",
		e.Before, e.After, hours(e.Gap))
}

// hours writes a duration in hours and minutes.
func hours(d time.Duration) string {
	text := ""
	if h := int(d.Hours()); h > 0 {
		text = fmt.Sprintf("%d h", h)
	}
	if m := int(d.Minutes()) % 60; m > 0 || text == "" {
		if text != "" {
			text += " "
		}
		text += fmt.Sprintf("%d min", m)
	}
	return text
}

// Arrange puts times of the day in order. It fails where two are the same or less than
// the gap apart, over the night too.
func Arrange(times []Time, gap time.Duration) ([]Time, error) {
	const day = Time(24 * time.Hour)
	times = slices.Sorted(slices.Values(times))
	for i, t := range times {
		next := times[(i+1)%len(times)]
		apart := (next - t + day) % day
		if len(times) > 1 && apart < max(Time(gap), Time(time.Minute)) {
			return nil, &CloseError{t, next, gap}
		}
	}
	return times, nil
}
