package main

import (
	"context"
	"errors"
	"fmt"
	"time"

	"glidepace/devices/screen"
	"glidepace/pacer"
	"glidepace/sessions"
)

// secondDigit is how long a 1 waits for the 0 of a 10.
const secondDigit = 400 * time.Millisecond

// symptomPatience is how long the question what ended a session waits.
const symptomPatience = 30 * time.Second

// asks reports whether the person is to be asked for ratings.
func (p *paceRun) asks() bool { return !p.noRatings && !p.yes && isTerminal(p.in) }

// rate asks how strong tingling and pain are; what is skipped is not rated.
func (p *paceRun) rate(ctx context.Context) (r sessions.Ratings, err error) {
	fmt.Fprintln(p.out, "0 is none, 10 the worst you can think of. One key each; Enter skips.")
	if r.Tingling, err = p.oneRating(ctx, "Tingling or numbness now: "); err != nil {
		return r, err
	}
	r.Pain, err = p.oneRating(ctx, "Pain now: ")
	return r, err
}

func (p *paceRun) oneRating(ctx context.Context, question string) (*int, error) {
	fmt.Fprint(p.out, question)
	for {
		key, err := screen.ReadKey(ctx, p.in, 0)
		if err != nil {
			fmt.Fprintln(p.out)
			return nil, err
		}
		n := int(key) - '0'
		switch {
		case key == '\n' || key == '\r':
			fmt.Fprintln(p.out, "skipped")
			return nil, nil
		case n < 0 || n > 9:
			continue
		case n == 1:
			fmt.Fprint(p.out, "1")
			next, err := screen.ReadKey(ctx, p.in, secondDigit)
			if err != nil && !errors.Is(err, screen.ErrNoKey) {
				fmt.Fprintln(p.out)
				return nil, err
			}
			if next == '0' {
				n = 10
				fmt.Fprint(p.out, "0")
			}
			fmt.Fprintln(p.out)
		default:
			fmt.Fprintln(p.out, n)
		}
		return &n, nil
	}
}

// rateAfter asks again when a session is over, and times how long what rose
// takes to be back where it was. Each answer is in the diary before the next
// question.
func (p *paceRun) rateAfter(ctx context.Context, b *book, before sessions.Ratings) {
	// Keys that were still meant for the session must not skip a question.
	for end := time.Now().Add(time.Second); time.Now().Before(end); {
		if _, err := screen.ReadKey(ctx, p.in, time.Until(end)); err != nil {
			break
		}
	}
	fmt.Fprintln(p.out)
	after, err := p.rate(ctx)
	b.rated(after)
	b.flush()
	if err != nil || !rose(before.Tingling, after.Tingling) && !rose(before.Pain, after.Pain) {
		return
	}
	limit := b.settleWithin
	fmt.Fprintf(p.out, "That is more than before; it should be back within %g min. Let the arm hang.\n"+
		"Enter: it is back where it was.  n: it is not.  q: do not time it. ", limit.Minutes())
	for {
		key, err := screen.ReadKey(ctx, p.in, 0)
		if err != nil {
			fmt.Fprintln(p.out)
			return
		}
		switch key {
		case '\n', '\r', ' ':
			took := b.ended.since()
			b.settled(true, took)
			fmt.Fprintf(p.out, "\nBack after %s.\n", pacer.Clock(took.Seconds()))
			if took > limit {
				fmt.Fprintln(p.out, "That took long. Tell your clinician.")
			}
			return
		case 'n', 'N':
			b.settled(false, b.ended.since())
			fmt.Fprintln(p.out, "\nTell your clinician before the next session.")
			return
		case 'q', 'Q':
			fmt.Fprintln(p.out)
			return
		}
	}
}

// askSymptom asks what it was that ended a session at its last stop, and
// writes down pain or breath: without an answer it stays tingling.
func (p *paceRun) askSymptom(ctx context.Context, b *book) {
	fmt.Fprintln(p.out, "What was it? Enter: tingling or numbness.  p: pain.\n"+
		"b: light-headed, short of breath or tingling around the mouth.")
	for {
		key, err := screen.ReadKey(ctx, p.in, symptomPatience)
		if err != nil {
			return
		}
		var a pacer.Answer
		switch key {
		case '\n', '\r':
			return
		case 'p', 'P':
			a = pacer.Pain
		case 'b', 'B':
			a = pacer.Breathing
		default:
			continue
		}
		b.said(a.Symptom())
		newPrinter(p.out).wrap("", screen.Parting(sessions.Symptoms, a))
		return
	}
}

// rose reports whether a rating is higher than before.
func rose(before, after *int) bool { return before != nil && after != nil && *after > *before }
