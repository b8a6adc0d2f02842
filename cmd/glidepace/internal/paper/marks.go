package paper

import (
	"errors"
	"fmt"
	"regexp"
	"slices"
	"strconv"
	"strings"

	"glidepace/pacer"
	"glidepace/sessions"
	"glidepace/sessions/diary"
)

// asked is what a session on a sheet asks for.
type asked struct {
	repetitions int         // in all
	sides       []sideAsked // in their order, if there are two
}

type sideAsked struct {
	side        sessions.Side
	repetitions int
}

// askedBy returns what a whole session asks for.
func askedBy(t *pacer.Timeline, repetitions int) asked {
	a := asked{repetitions: repetitions}
	for _, set := range t.Sets() {
		i := slices.IndexFunc(a.sides, func(s sideAsked) bool { return s.side == set.Side })
		if i < 0 {
			i, a.sides = len(a.sides), append(a.sides, sideAsked{side: set.Side})
		}
		a.sides[i].repetitions += set.Reps
	}
	if len(a.sides) != 2 {
		a.sides = nil
	}
	return a
}

// example says how to write that fewer repetitions were done.
func (a asked) example() string {
	if a.sides != nil {
		return fmt.Sprintf("y 8+6: done, 8 on the %s side and 6 on the %s.", a.sides[0].side, a.sides[1].side)
	}
	return "y 8: done, 8 repetitions in the whole session."
}

// number reads how many repetitions were done, of a session that works two sides as
// 8+6. ok is false if the word is no number.
func (a asked) number(word string) (n int, ok bool, err error) {
	first, second, two := strings.Cut(word, "+")
	n, err = strconv.Atoi(first)
	if err != nil || n < 0 || strings.HasPrefix(first, "+") {
		return 0, false, nil
	}
	if n == 0 && !two {
		return 0, true, nil
	}
	switch {
	case !two && a.sides != nil:
		return 0, true, fmt.Errorf("%.40q does not say of which side: write both, as 8+6 for 8 on the %s side and 6 on the %s", word, a.sides[0].side, a.sides[1].side)
	case !two:
		return n, true, nil
	case a.sides == nil:
		return 0, true, fmt.Errorf("%.40q is for two sides, and this session works one: write one number", word)
	}
	m, err := strconv.Atoi(second)
	if err != nil || m < 0 || strings.HasPrefix(second, "+") {
		return 0, false, nil
	}
	for i, done := range []int{n, m} {
		if s := a.sides[i]; done > s.repetitions {
			return 0, true, fmt.Errorf("%d repetitions on the %s side; allowed is 0 to %d", done, s.side, s.repetitions)
		}
	}
	return n + m, true, nil
}

// readMarks reads the marks of one day: one for each session, with how many
// repetitions it had and its ratings after it.
func readMarks(text, date string, a asked) ([]diary.Tick, error) {
	var marks []diary.Tick // those not done have no repetitions
	rated := 0             // moments of the last mark
	mark := func(reps int, all bool) {
		marks = append(marks, diary.Tick{Date: date, Number: len(marks) + 1, Repetitions: reps, All: all})
		rated = 0
	}
	for _, word := range strings.FieldsFunc(text, func(c rune) bool { return strings.ContainsRune(" ,\t", c) }) {
		rest := word
		for ; rest != "" && (rest[0] == 'y' || rest[0] == 'n'); rest = rest[1:] {
			if rest[0] == 'y' {
				mark(a.repetitions, true)
			} else {
				mark(0, false)
			}
		}
		ratings := readRatings(rest)
		reps, isNumber, err := a.number(rest)
		last := &diary.Tick{}
		if len(marks) > 0 {
			last = &marks[len(marks)-1]
		}
		saidDone := last.All && rated == 0 // and not yet how many
		switch {
		case rest == "":
		case len(ratings) > 0:
			if last.Repetitions == 0 {
				return nil, fmt.Errorf("%.40q is a rating of a session that was not done; write y before it", rest)
			}
			if rated+len(ratings) > 2 {
				return nil, fmt.Errorf("%.40q is one rating too many: one before the session, one after it", rest)
			}
			for _, r := range ratings {
				if rated++; rated == 1 {
					last.Before = r
				} else {
					last.After = r
				}
			}
		case !isNumber || rest != word && !saidDone || reps == 0 && err == nil && saidDone:
			return nil, fmt.Errorf("%.40q is no mark: write y or n; after y how many repetitions, and ratings like 2/0", word)
		case err != nil:
			return nil, err
		case saidDone:
			last.Repetitions, last.All = reps, false
		default:
			mark(reps, false)
		}
	}
	var ticks []diary.Tick
	for _, m := range marks {
		if m.Repetitions == 0 {
			continue
		}
		if err := m.Check(a.repetitions); err != nil {
			return nil, errors.New(strings.ReplaceAll(err.Error(), "\n", "; "))
		}
		ticks = append(ticks, m)
	}
	return ticks, nil
}

var (
	slashRatings = regexp.MustCompile(`^(\d\d?|-)/(\d\d?|-)$`)
	shortRatings = regexp.MustCompile(`^\d{4}$`)
)

// readRatings reads tingling/pain at one moment, such as 2/0, or four digits for both
// moments, such as 2030; nil if the word is neither.
func readRatings(word string) []sessions.Ratings {
	rating := func(text string) *int {
		n, err := strconv.Atoi(text)
		if err != nil {
			return nil // a dash
		}
		return &n
	}
	if m := slashRatings.FindStringSubmatch(word); m != nil {
		return []sessions.Ratings{{Tingling: rating(m[1]), Pain: rating(m[2])}}
	}
	if shortRatings.MatchString(word) {
		return []sessions.Ratings{
			{Tingling: rating(word[:1]), Pain: rating(word[1:2])},
			{Tingling: rating(word[2:3]), Pain: rating(word[3:])},
		}
	}
	return nil
}
