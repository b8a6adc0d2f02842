package main

import (
	"context"
	"fmt"
	"io"
	"strings"
	"time"
	"unicode"

	"glidepace/devices/keyboard"
)

// choose asks a question until one of the keys answers it, Enter being '\n',
// and shows the answer. Other keys mean nothing. It ends with ctx, where no
// more keys come, and with keyboard.ErrNoKey when none came for as long as
// patience, where that is above 0.
func choose(ctx context.Context, in io.Reader, out io.Writer, question, keys string, patience time.Duration) (rune, error) {
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

// ask reads one line. It takes no byte beyond it: what follows are keys.
func ask(ctx context.Context, in io.Reader, out io.Writer, question string) (string, error) {
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
