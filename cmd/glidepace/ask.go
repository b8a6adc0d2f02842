package main

import (
	"context"
	"fmt"
	"io"
	"strings"
)

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
