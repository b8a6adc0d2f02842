package sessions

import "time"

// Date is a calendar day. The zero Date is no day.
type Date struct{ days int32 } // since 0001-01-01, the zero of time.Time

const (
	secondsOfDay = 24 * 60 * 60
	daysTo1970   = 719162
)

// on returns the day of a midnight in UTC.
func on(midnight time.Time) Date { return Date{int32(midnight.Unix()/secondsOfDay + daysTo1970)} }

func (d Date) midnight() time.Time {
	return time.Unix((int64(d.days)-daysTo1970)*secondsOfDay, 0).UTC()
}

// DateOf returns the day that t's clock shows in t's own time zone.
func DateOf(t time.Time) Date {
	y, m, d := t.Date()
	return on(time.Date(y, m, d, 0, 0, 0, 0, time.UTC))
}

// ParseDate reads a day written as in ISO 8601, such as 2026-12-01.
func ParseDate(s string) (Date, error) {
	t, err := time.Parse(time.DateOnly, s)
	return on(t), err
}

// IsZero reports whether d is no day.
func (d Date) IsZero() bool { return d == Date{} }

// String writes the day as in ISO 8601.
func (d Date) String() string { return d.midnight().Format(time.DateOnly) }

// Format writes the day in a layout of package time.
func (d Date) Format(layout string) string { return d.midnight().Format(layout) }

// MarshalText writes the day as String does, "" for no day.
func (d Date) MarshalText() ([]byte, error) {
	if d.IsZero() {
		return nil, nil
	}
	return []byte(d.String()), nil
}

// UnmarshalText reads what MarshalText writes.
func (d *Date) UnmarshalText(text []byte) (err error) {
	*d = Date{}
	if len(text) > 0 {
		*d, err = ParseDate(string(text))
	}
	return err
}

// AddDays returns the day n days after d.
func (d Date) AddDays(n int) Date { return Date{d.days + int32(n)} }

// ISOWeek returns the year and the week of ISO 8601. Its weeks begin on Monday; the
// first and the last days of a year may be in a week of the year beside it.
func (d Date) ISOWeek() (year, week int) { return d.midnight().ISOWeek() }

// Weekday returns the day of the week.
func (d Date) Weekday() time.Weekday { return d.midnight().Weekday() }

// DaysSince returns how many days d is after from; negative before it.
func (d Date) DaysSince(from Date) int { return int(d.days - from.days) }
