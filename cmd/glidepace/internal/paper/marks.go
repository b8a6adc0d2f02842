package paper

import (
	"errors"
	"fmt"
	"regexp"
	"strconv"
	"strings"

	"glidepace/sessions"
	"glidepace/sessions/diary"
)

// readMarks reads the marks of one day: one for each session, with its ratings
// after it.
func readMarks(text, date string, asked int) ([]diary.Tick, error) {
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
				mark(asked, true)
			} else {
				mark(0, false)
			}
		}
		reps, notNumber := strconv.Atoi(rest)
		ratings := readRatings(rest)
		switch {
		case rest == "":
		case len(ratings) == 0 && (notNumber != nil || rest != word || reps < 0):
			return nil, fmt.Errorf("%.40q is no mark: write y, n, or how many repetitions; ratings like 2/0", word)
		case len(ratings) == 0:
			mark(reps, false)
		case len(marks) == 0 || marks[len(marks)-1].Repetitions == 0:
			return nil, fmt.Errorf("%.40q is a rating of a session that was not done; write y before it", rest)
		case rated+len(ratings) > 2:
			return nil, fmt.Errorf("%.40q is one rating too many: one before the session, one after it", rest)
		default:
			last := &marks[len(marks)-1]
			for _, r := range ratings {
				if rated++; rated == 1 {
					last.Before = r
				} else {
					last.After = r
				}
			}
		}
	}
	var ticks []diary.Tick
	for _, m := range marks {
		if m.Repetitions == 0 {
			continue
		}
		if err := m.Check(asked); err != nil {
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
