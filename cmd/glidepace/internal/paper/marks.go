package paper

import (
	"errors"
	"fmt"
	"regexp"
	"strconv"
	"strings"

	"glidepace/pacer"
	"glidepace/sessions"
	"glidepace/sessions/diary"
)

// asked is what a session on a sheet asks for.
type asked struct {
	repetitions int                 // in all
	sides       []pacer.SideSummary // in their order, if there are two
}

// askedBy returns what a whole session asks for.
func askedBy(t *pacer.Timeline, repetitions int) asked {
	a := asked{repetitions, t.Sides()}
	if len(a.sides) != 2 {
		a.sides = nil
	}
	return a
}

// example says how to write that fewer repetitions were done.
func (a asked) example() string {
	if a.sides != nil {
		return fmt.Sprintf("y 8+6: done, 8 on the %s side and 6 on the %s.", a.sides[0].Side, a.sides[1].Side)
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
		return 0, true, fmt.Errorf("%.40q does not say of which side: write both, as 8+6 for 8 on the %s side and 6 on the %s", word, a.sides[0].Side, a.sides[1].Side)
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
		if s := a.sides[i]; done > s.Reps {
			return 0, true, fmt.Errorf("%d repetitions on the %s side; allowed is 0 to %d", done, s.Side, s.Reps)
		}
	}
	return n + m, true, nil
}

// readMarks reads the marks of one day: one for each session, with how many
// repetitions it had and its ratings after it, and whether its symptoms were still there.
// A note, after #, is of the last session.
func readMarks(text, date string, a asked) ([]diary.Tick, error) {
	var marks []diary.Tick // those not done have no repetitions
	rated := 0             // moments of the last mark
	mark := func(reps int, all bool) {
		marks = append(marks, diary.Tick{Date: date, Number: len(marks) + 1, Repetitions: reps, All: all})
		rated = 0
	}
	text, note, noted := strings.Cut(text, "#")
	for _, word := range strings.FieldsFunc(strings.ToLower(text), func(c rune) bool { return strings.ContainsRune(" ,\t", c) }) {
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
		case word == "s" || word == "still":
			if last.Repetitions == 0 {
				return nil, fmt.Errorf("%q is of symptoms after a session that was not done; write y before it", word)
			}
			last.NotSettled = true
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
			return nil, fmt.Errorf("%.40q is no mark: write y or n; after y how many repetitions, ratings like 2/0, and s if symptoms were still there", word)
		case err != nil:
			return nil, err
		case saidDone:
			last.Repetitions, last.All = reps, false
		default:
			mark(reps, false)
		}
	}
	if noted {
		if len(marks) == 0 || marks[len(marks)-1].Repetitions == 0 {
			return nil, errors.New("a note is of the last session of its line, and that was not done; write y before it")
		}
		marks[len(marks)-1].Note = strings.TrimSpace(note)
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
