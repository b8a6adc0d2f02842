package console

import (
	"context"
	"fmt"
	"io"
	"strings"
	"time"
	"unicode"
	"unicode/utf8"

	"glidepace/devices/keyboard"
)

// Choose asks a question until one of the keys answers it, and shows the answer.
// Enter is '\n'; other keys mean nothing. It fails when ctx ends, when no more
// keys can come, and, if patience is above 0, with keyboard.ErrNoKey when no key
// came for that long.
func Choose(ctx context.Context, in io.Reader, out io.Writer, question, keys string, patience time.Duration) (rune, error) {
	fmt.Fprint(out, question)
	for {
		b, err := keyboard.ReadKey(ctx, in, patience)
		if err != nil {
			fmt.Fprintln(out)
			return 0, err
		}
		key := unicode.ToLower(rune(b))
		if key == '\r' {
			key = '\n'
		}
		if !strings.ContainsRune(keys, key) {
			continue
		}
		fmt.Fprintln(out, strings.TrimSpace(string(key)))
		return key, nil
	}
}

// Ask asks a question and reads one line. It reads no byte beyond the line, since
// keys may follow.
func Ask(ctx context.Context, in io.Reader, out io.Writer, question string) (string, error) {
	fmt.Fprint(out, question)
	type answer struct {
		text string
		err  error
	}
	got := make(chan answer, 1)
	go func() {
		var line []byte
		for b := make([]byte, 1); ; {
			n, err := in.Read(b)
			if n == 1 && b[0] == '\n' {
				got <- answer{text: strings.TrimSpace(string(line))}
				return
			}
			line = append(line, b[:n]...)
			if err != nil && len(line) > 0 {
				got <- answer{text: strings.TrimSpace(string(line))}
				return
			}
			if err != nil {
				got <- answer{err: err}
				return
			}
		}
	}()
	select {
	case a := <-got:
		if a.err != nil {
			fmt.Fprintln(out)
		}
		return a.text, a.err
	case <-ctx.Done():
		fmt.Fprintln(out)
		return "", ctx.Err()
	}
}

// SameKey is how long after an answer of one key an Enter still belongs to it.
const SameKey = time.Second

// DropKeys ignores the keys of a terminal for a while: an Enter after an answer of
// one key must not answer the next question.
func DropKeys(ctx context.Context, in io.Reader, while time.Duration) {
	if !IsTerminal(in) {
		return
	}
	for end := time.Now().Add(while); time.Now().Before(end); {
		if _, err := keyboard.ReadKey(ctx, in, time.Until(end)); err != nil {
			return
		}
	}
}

// AskKey asks a question that one of the keys answers. The hint says which keys
// there are. An Enter right after the answer belongs to it.
func AskKey(ctx context.Context, in io.Reader, out io.Writer, question, hint, keys string) (rune, error) {
	list := Asking(out, question, hint)
	for _, l := range list[:len(list)-1] {
		fmt.Fprintln(out, l)
	}
	key, err := Choose(ctx, in, out, list[len(list)-1], keys, 0)
	if err == nil && key != '\n' {
		DropKeys(ctx, in, SameKey)
	}
	return key, err
}

// Asking returns the lines of a question. The hint stands right behind it, or below
// it if there is no room.
func Asking(out io.Writer, question, hint string) []string {
	width := NewPrinter(out).Width
	list := Lines(width, func(q *Printer) { q.Wrap("", question) })
	if last := &list[len(list)-1]; utf8.RuneCountInString(*last)+utf8.RuneCountInString(hint)+2 < width {
		*last += " " + hint + " "
		return list
	}
	return append(list, hint+" ")
}
