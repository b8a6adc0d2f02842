package sessions

import "time"

// Date is a calendar day. The zero Date is no day.
type Date struct{ midnight time.Time } // in UTC

// DateOf returns the day that t's clock shows in t's own time zone.
func DateOf(t time.Time) Date {
	y, m, d := t.Date()
	return Date{time.Date(y, m, d, 0, 0, 0, 0, time.UTC)}
}

// ParseDate reads a day written as in ISO 8601, such as 2026-12-01.
func ParseDate(s string) (Date, error) {
	t, err := time.Parse(time.DateOnly, s)
	return Date{t}, err
}

// IsZero reports whether d is no day.
func (d Date) IsZero() bool { return d.midnight.IsZero() }

// String writes the day as in ISO 8601.
func (d Date) String() string { return d.midnight.Format(time.DateOnly) }

// Format writes the day in a layout of package time.
func (d Date) Format(layout string) string { return d.midnight.Format(layout) }

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
func (d Date) AddDays(n int) Date { return Date{d.midnight.AddDate(0, 0, n)} }

// ISOWeek returns the year and the week of ISO 8601. Its weeks begin on Monday; the
// first and the last days of a year may be in a week of the year beside it.
func (d Date) ISOWeek() (year, week int) { return d.midnight.ISOWeek() }

// Weekday returns the day of the week.
func (d Date) Weekday() time.Weekday { return d.midnight.Weekday() }

// DaysSince returns how many days d is after from; negative before it.
func (d Date) DaysSince(from Date) int {
	return int(d.midnight.Sub(from.midnight) / (24 * time.Hour))
}
