package diary

import (
	"encoding/json"
	"fmt"
	"slices"
	"strings"
	"time"
	"unicode/utf8"

	"glidepace/sessions"
)

// Detail is what more an event of its kind holds, such as a [Rating].
type Detail interface {
	kind() Kind
	legal() bool // its values are such as can be
}

func (Stopping) kind() Kind   { return Stopped }
func (Answer) kind() Kind     { return Answered }
func (Rating) kind() Kind     { return Rated }
func (Settling) kind() Kind   { return Settled }
func (Feeling) kind() Kind    { return Felt }
func (Note) kind() Kind       { return Noted }
func (paper) kind() Kind      { return Entered }
func (undated) kind() Kind    { return Undated }
func (morning) kind() Kind    { return Morning }
func (correction) kind() Kind { return WrongDay }

func (Stopping) legal() bool { return true }
func (a Answer) legal() bool {
	return slices.Contains(weights, a.Symptom) && isBetween(a.After, 0, maxSeconds) && isBetween(a.Rate, 0, maxRate) &&
		isBetween(a.Repetitions, 0, maxCount) && len(a.Reply) <= maxWord
}
func (r Rating) legal() bool {
	for _, n := range []*int{r.Tingling, r.Pain} {
		if n != nil && !isBetween(*n, 0, 10) {
			return false
		}
	}
	return r.When == BeforeSession || r.When == AfterSession
}
func (s Settling) legal() bool { return isBetween(s.After, 0, maxSeconds) }
func (f Feeling) legal() bool {
	return f.Symptoms == sessions.Stronger || f.Symptoms == sessions.NoStronger
}
func (n Note) legal() bool {
	return n.Text != "" && utf8.RuneCountInString(n.Text) <= maxNote && !strings.Contains(n.Text, "\x00")
}
func (p paper) legal() bool { return isBetween(p.Number, 1, maxDaily) }
func (u undated) legal() bool {
	return isBetween(int64(u.Number), 1, maxPlace) && isBetween(u.Since, 0, 100*maxSeconds) && len(u.ID) <= maxText
}
func (m morning) legal() bool {
	return m.Symptoms == sessions.Worse || m.Symptoms == sessions.NotWorse
}
func (c correction) legal() bool {
	_, err := time.Parse(time.DateOnly, c.Today)
	return err == nil
}

func isBetween[N int | int64 | float64](n, least, most N) bool { return least <= n && n <= most }

// readable reports whether an event has the detail that its kind needs.
func (e Event) readable() (ok bool) {
	switch e.Kind {
	case Stopped:
		_, ok = detail[Stopping](e)
		return ok || e.Detail == "" // format 1
	case Answered:
		_, ok = detail[Answer](e)
	case Rated:
		_, ok = detail[Rating](e)
	case Settled:
		_, ok = detail[Settling](e)
	case Felt:
		_, ok = detail[Feeling](e)
	case Noted:
		_, ok = detail[Note](e)
	case Entered:
		_, ok = detail[paper](e)
	case Undated:
		_, ok = detail[undated](e)
	case Morning:
		_, ok = detail[morning](e)
	case WrongDay:
		_, ok = detail[correction](e)
	default:
		return true
	}
	return ok
}

// With returns the event with a detail and its kind.
func (e Event) With(d Detail) Event {
	e.Kind, e.Detail = d.kind(), encode(d)
	return e
}

func encode(d Detail) string {
	text, err := json.Marshal(d)
	if err != nil { // such as an infinite rate: better unreadable for the program than lost
		return fmt.Sprintf("%+v", d)
	}
	return string(text)
}

// detail returns an event's detail, false if it cannot be read.
func detail[T Detail](e Event) (T, bool) {
	var read, nothing T
	if json.Unmarshal([]byte(e.Detail), &read) != nil || !read.legal() {
		return nothing, false
	}
	return read, true
}
