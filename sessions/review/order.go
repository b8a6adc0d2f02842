package review

import (
	"cmp"
	"encoding/json"
	"slices"
	"strings"
	"time"

	"glidepace/sessions"
)

// ordered returns sessions from the first to the last, each once. One without a day comes
// after the latest that its diary recorded before it, and first if that is not known. One
// that was paced with an earlier date than its diary recorded before it had a wrong clock.
func ordered(list []*Session) []*Session {
	list = slices.Clone(list)
	slices.SortFunc(list, func(a, b *Session) int {
		if a.ID != b.ID {
			return cmp.Compare(a.ID, b.ID)
		}
		return byContent(b, a)
	})
	list = slices.CompactFunc(list, func(a, b *Session) bool { return a.ID == b.ID })
	type placed struct {
		moment string
		*Session
	}
	slices.SortFunc(list, func(a, b *Session) int {
		return cmp.Or(cmp.Compare(a.Diary, b.Diary), cmp.Compare(a.Place, b.Place), cmp.Compare(a.ID, b.ID))
	})
	all := make([]placed, len(list))
	latest := ""
	for i, s := range list {
		if i > 0 && s.Diary != list[i-1].Diary {
			latest = ""
		}
		if day, _, _ := strings.Cut(latest, " "); s.Place > 0 && s.Source != Paper && !s.Date.IsZero() && s.Date.String() < day {
			s.Date, s.Start, s.WrongDay = sessions.Date{}, time.Time{}, true
		}
		all[i] = placed{latest, s}
		if !s.Date.IsZero() {
			all[i].moment = s.Date.String()
			if !s.Start.IsZero() {
				all[i].moment += s.Start.UTC().Format(" 2006-01-02T15:04:05.000")
			}
		}
		if s.Place > 0 {
			latest = max(latest, all[i].moment)
		}
	}
	slices.SortFunc(all, func(a, b placed) int {
		return cmp.Or(cmp.Compare(a.moment, b.moment), cmp.Compare(a.Place, b.Place), cmp.Compare(a.Number, b.Number), cmp.Compare(a.ID, b.ID))
	})
	for i, p := range all {
		list[i] = p.Session
	}
	return list
}

// byContent compares two copies of a session by how much they have. Copies that have as
// much are in some order, always the same.
func byContent(a, b *Session) int {
	if by := slices.Compare(a.content(), b.content()); by != 0 {
		return by
	}
	text := func(s *Session) string {
		text, _ := json.Marshal(s) // a diary has no value that has no JSON form
		return string(text)
	}
	return cmp.Compare(text(a), text(b))
}

// content counts what a copy of a session has, what weighs most first.
func (s *Session) content() []int {
	count := func(has ...bool) (n int) {
		for _, h := range has {
			if h {
				n++
			}
		}
		return n
	}
	return []int{
		count(s.Outcome != ""), s.Done, len(s.Stops), len(s.Notes),
		count(s.Before.Tingling != nil, s.Before.Pain != nil, s.After.Tingling != nil, s.After.Pain != nil, s.Felt != "",
			s.Settled > 0, s.NotSettled, s.NextMorning != "", s.WrongDay, s.Cleared, s.EndedBy != "" && s.EndedBy != sessions.NotSaid),
	}
}
