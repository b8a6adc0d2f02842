package terminal

import (
	"context"
	"errors"
	"fmt"
	"io"
	"strings"
	"time"

	"glidepace/cmd/glidepace/internal/console"
	"glidepace/devices/keyboard"
	"glidepace/sessions"
)

// secondDigit is how long a 1 waits for the 0 of a 10.
const secondDigit = time.Second

// The questions for ratings.
const (
	tinglingNow = "Tingling or numbness now? 0 (none) to 10 (worst), or Enter to skip:"
	painNow     = "Pain now? 0 (none) to 10 (worst), or Enter to skip:"
)

const skipped = "skipped"

// prompt lays a question out so that any answer has room behind it.
func prompt(width int, question string) string {
	room := width - len(skipped) - 1
	return strings.Join(console.Lines(room, func(p *console.Printer) { p.Wrap("", question) }), "\n") + " "
}

// Rate implements patient.Person.
func (t *Terminal) Rate(ctx context.Context) (r sessions.Ratings, err error) {
	var keys ratingKeys
	if r.Tingling, err = t.oneRating(ctx, tinglingNow, &keys); err != nil {
		return r, err
	}
	if r.Pain, err = t.oneRating(ctx, painNow, &keys); err == nil && r.Pain != nil {
		console.DropKeys(ctx, t.In, console.SameKey) // an Enter after it must not begin the session
	}
	return r, err
}

// ratingKeys is what the next question must know of the keys before it.
type ratingKeys struct {
	rated time.Time // when the last rating was given; zero if it was skipped
	next  byte      // a key that came while a 1 waited for its 0; 0 for none
}

func (k *ratingKeys) read(ctx context.Context, in io.Reader, patience time.Duration) (byte, error) {
	if key := k.next; key != 0 {
		k.next = 0
		return key, nil
	}
	return keyboard.ReadKey(ctx, in, patience)
}

// oneRating asks for one rating; nil if it is skipped. An Enter right after the
// rating before belongs to that one, and skips nothing.
func (t *Terminal) oneRating(ctx context.Context, question string, keys *ratingKeys) (*int, error) {
	fmt.Fprint(t.Out, prompt(console.NewPrinter(t.Out).Width, question))
	for {
		key, err := keys.read(ctx, t.In, 0)
		if err != nil {
			fmt.Fprintln(t.Out)
			return nil, err
		}
		if key == '\n' || key == '\r' {
			if time.Since(keys.rated) < console.SameKey {
				keys.rated = time.Time{}
				continue
			}
			fmt.Fprintln(t.Out, skipped)
			return nil, nil
		}
		n := int(key) - '0'
		if n < 0 || n > 9 {
			continue
		}
		fmt.Fprint(t.Out, n)
		if n == 1 {
			switch next, err := keyboard.ReadKey(ctx, t.In, secondDigit); {
			case errors.Is(err, keyboard.ErrNoKey), next == '\n', next == '\r':
			case err != nil:
				fmt.Fprintln(t.Out)
				return nil, err
			case next == '0':
				n = 10
				fmt.Fprint(t.Out, "0")
			default:
				keys.next = next
			}
		}
		fmt.Fprintln(t.Out)
		keys.rated = time.Now()
		return &n, nil
	}
}
