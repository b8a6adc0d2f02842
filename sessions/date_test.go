package sessions_test

import (
	"testing"
	"time"

	"glidepace/sessions"
)

func TestDate(t *testing.T) {
	d, err := sessions.ParseDate("2028-02-28")
	if err != nil || d.String() != "2028-02-28" || d.IsZero() {
		t.Fatalf("got %v, %v", d, err)
	}
	if got := d.AddDays(2).String(); got != "2028-03-01" { // a leap year
		t.Errorf("two days later is %s", got)
	}
	if got := d.AddDays(-59).DaysSince(d); got != -59 {
		t.Errorf("59 days before are %d", got)
	}
	for _, s := range []string{"2026-02-29", "2026-2-3", "20260203", "2026-02-03T00:00:00Z", ""} {
		if got, err := sessions.ParseDate(s); err == nil || !got.IsZero() {
			t.Errorf("%q: %v, %v", s, got, err)
		}
	}
	// The day is the one on the wall where the session is done.
	east := time.FixedZone("east", 13*3600)
	if got := sessions.DateOf(time.Date(2026, 12, 1, 0, 30, 0, 0, east)).String(); got != "2026-12-01" {
		t.Errorf("half past midnight in the east is on %s", got)
	}
}
