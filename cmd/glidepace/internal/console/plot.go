package console

import (
	"math"
	"os"
	"strings"
)

// Plot draws small plots of one line, to go with figures in words. It uses no
// colour.
type Plot struct {
	full, empty         string // of a bar
	Limit               string // within a bar
	Before, After, Both string // on a scale
}

var (
	plainPlot = Plot{"#", ".", "|", "o", "x", "*"}
	blockPlot = Plot{"█", "░", "│", "○", "●", "◉"}
)

// PlotFor returns the plots for a stream. They are in ASCII unless it is a terminal
// that shows UTF-8.
func PlotFor(stream any) Plot {
	if IsTerminal(stream) && utf8Locale(os.Getenv) {
		return blockPlot
	}
	return plainPlot
}

// utf8Locale reports whether the environment says that text is in UTF-8.
func utf8Locale(getenv func(string) string) bool {
	for _, name := range []string{"LC_ALL", "LC_CTYPE", "LANG"} {
		if v := strings.ToLower(getenv(name)); v != "" {
			return strings.Contains(v, "utf-8") || strings.Contains(v, "utf8")
		}
	}
	return false
}

// barCells is how many cells a bar has; one more shows the limit.
const barCells = 20

// Bar draws a share, 0 to 1, as a bar that is rounded down, and a limit within it: a
// bar that passes the limit reaches it.
func (p Plot) Bar(share, limit float64) string {
	full, at := int(share*barCells), int(limit*barCells)
	var b strings.Builder
	for i := range barCells {
		if i == at {
			b.WriteString(p.Limit)
		}
		if i < full {
			b.WriteString(p.full)
		} else {
			b.WriteString(p.empty)
		}
	}
	return b.String()
}

// Ratings draws two ratings, 0 to 10, on one scale: a dot is half a point.
func (p Plot) Ratings(before, after float64) string {
	scale := strings.Split(strings.Repeat(".", 21), "")
	place := func(v float64) int { return int(math.Round(2 * v)) }
	scale[place(before)], scale[place(after)] = p.Before, p.After
	if place(before) == place(after) {
		scale[place(before)] = p.Both
	}
	return strings.Join(scale, "")
}
