package sessions

import (
	"fmt"
	"strings"
)

// Count writes a number with its noun, in the plural where it must be.
func Count(n int, noun string) string { return Span(n, n, noun) }

// Span writes a range of numbers with its noun.
func Span(low, high int, noun string) string {
	if high != 1 {
		if strings.HasSuffix(noun, "s") {
			noun += "e"
		}
		noun += "s"
	}
	if low == high {
		return fmt.Sprintf("%d %s", low, noun)
	}
	return fmt.Sprintf("%d to %d %s", low, high, noun)
}
