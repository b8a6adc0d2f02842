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
func (e Event) readable(known details) (ok bool) {
	switch e.Kind {
	case Stopped:
		_, ok = detailFrom[Stopping](known, e)
		return ok || e.Detail == "" // format 1
	case Answered:
		_, ok = detailFrom[Answer](known, e)
	case Rated:
		_, ok = detailFrom[Rating](known, e)
	case Settled:
		_, ok = detailFrom[Settling](known, e)
	case Felt:
		_, ok = detailFrom[Feeling](known, e)
	case Noted:
		_, ok = detailFrom[Note](known, e)
	case Entered:
		_, ok = detailFrom[paper](known, e)
	case Undated:
		_, ok = detailFrom[undated](known, e)
	case Morning:
		_, ok = detailFrom[morning](known, e)
	case WrongDay:
		_, ok = detailFrom[correction](known, e)
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

func encode(d any) string {
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

// details keeps what events tell, since most tell the same as many others: a rating of
// 2 and 0, and decoding takes longer than all else. A nil one keeps nothing.
type details map[toldBy]any

type toldBy struct {
	kind   Kind
	detail string
}

// maxDetails is how many details are kept.
const maxDetails = 10_000

// detailFrom is [detail], but decodes each text only once.
func detailFrom[T Detail](known details, e Event) (T, bool) {
	key := toldBy{e.Kind, e.Detail}
	if told, there := known[key]; there {
		d, ok := told.(T)
		return d, ok
	}
	d, ok := detail[T](e)
	switch {
	case known == nil || len(known) == maxDetails:
	case ok:
		known[key] = d
	default:
		known[key] = nil
	}
	return d, ok
}
