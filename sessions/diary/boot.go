package diary

import (
	"fmt"
	"time"
)

// Boot says what is known of the start of a session on a machine without a
// clock, or with one that is wrong. Such a session has no date and no times of
// day, only a length, and a [Session.Number] that keeps it in order.
type Boot struct {
	ID        string    `json:"id"`                  // of the machine's start, as the system gives it: on Linux /proc/sys/kernel/random/boot_id; "" if not known
	Since     float64   `json:"since_s"`             // seconds from the machine's start to the session's, monotonic
	NotBefore time.Time `json:"not_before,omitzero"` // the session was later than this, such as when the box was lent; zero if not known
	Clock     time.Time `json:"clock,omitzero"`      // what the clock said that is wrong
}

// words returns text such as "boot 3f2a91c0, 0:12:03 after power-on".
func (b Boot) words() string {
	s := int(seconds(b.Since).Round(time.Second).Seconds())
	text := fmt.Sprintf("boot %.8s, %d:%02d:%02d after power-on", b.ID, s/3600, s/60%60, s%60)
	if !b.Clock.IsZero() {
		text = "the clock was wrong, at " + b.Clock.Format("2006-01-02 15:04")
	}
	if !b.NotBefore.IsZero() {
		text += ", not before " + b.NotBefore.Format("2006-01-02 15:04")
	}
	return text
}

// undated is the detail of an [Undated] event.
type undated struct {
	Number int `json:"n"`
	Boot
}
