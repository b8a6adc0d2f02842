package screen

import (
	"strings"

	"github.com/charmbracelet/x/ansi"

	"glidepace/pacer"
	"glidepace/sessions"
)

// The smallest window that everything has a place in.
const minWidth, minHeight = 40, 12

// A window of fewer rows gets no blank ones, and the large word in one row.
const roomyHeight = 18

// draw lays the screen out: exactly the window's height, never wider.
func (m model) draw() string {
	if m.width <= 0 || m.height <= 0 {
		return ""
	}
	if m.timeline == nil {
		return strings.Repeat("\n", m.height-1) + ansi.Truncate(" "+m.keysLine(), m.width, "")
	}
	p := m.page()
	if m.width < minWidth || m.height < minHeight {
		return m.tooSmall(p)
	}

	width := m.width - 2 // a blank column on either side
	roomy := m.height >= roomyHeight
	var top []string
	if roomy {
		top = append(top, m.paint.bold(fit(p.title, p.left, width)), p.where, "")
	} else {
		top = append(top, m.paint.bold(fit(p.whereShort, p.left, width)))
	}
	top = append(top, m.largeWord(p, width)...)
	if roomy {
		top = append(top, "")
	}

	text := m.text(p, width)
	foot := []string{shorten(p.next, width), m.keysLine()}
	if roomy {
		foot = append([]string{""}, foot...)
	}
	labels := m.labels(p, width)
	rows := m.height - len(top) - len(labels) - len(text) - len(foot)
	var picture []string
	if p.draw != nil && rows >= p.minRows {
		picture = append(p.draw(width, rows).lines(m.paint), labels...)
	}

	// The foot stands at the bottom, the text right under the picture.
	lines := append(append(top, picture...), text...)
	room := m.height - len(foot)
	if len(lines) > room {
		lines = lines[:room]
	}
	for len(lines) < room {
		lines = append(lines, "")
	}
	lines = append(lines, foot...)
	for i, l := range lines {
		if l != "" {
			lines[i] = " " + ansi.Truncate(l, width, "…")
		}
	}
	return strings.Join(lines, "\n")
}

// tooSmall says the essential words, and what would help.
func (m model) tooSmall(p page) string {
	words := []string{strings.TrimSpace(p.word + " " + p.seconds), p.whereShort}
	if p.word == "" {
		words[0] = p.text
	}
	words = append(words, "Please make this window larger: 40 columns by 12 rows.", m.keysLine())
	lines := strings.Split(ansi.Wrap(strings.Join(words, "\n"), m.width, ""), "\n")
	return strings.Join(lines[:min(len(lines), m.height)], "\n")
}

// largeWord returns the breath word and the seconds left, as large as there
// is room for. It takes the same rows whatever it says. Inhale stands on the
// left and exhale on the right, since the words look alike from afar.
func (m model) largeWord(p page, width int) []string {
	const longest = "EXHALE 00"
	var rows []string
	scale := min(width/textWidth(longest, 1), m.height/17)
	switch {
	case scale > 0:
		text := p.word
		if with := p.word + " " + p.seconds; textWidth(with, scale) <= width {
			text = with
		}
		rows = large(strings.TrimSpace(text), scale, m.paint)
	case width >= textWidth("EXHALE", 1) && m.height >= 24:
		// A narrow, high window, such as a phone's: the seconds below.
		rows = append(large(p.word, 1, m.paint), "")
		rows = append(rows, large(p.seconds, 1, m.paint)...)
	default:
		spaced := strings.Join(strings.Split(p.word, ""), " ")
		rows = []string{m.paint.bold(strings.TrimSpace(spaced + "   " + p.seconds))}
	}
	return align(rows, p.wordAt, width)
}

// text returns what to do, in the rows that the longest text around here
// takes, and the reminder below it.
func (m model) text(p page, width int) []string {
	rows := wrap(p.text, width)
	for _, t := range p.textRoom {
		for len(rows) < len(wrap(t, width)) {
			rows = append(rows, "")
		}
	}
	for i, r := range rows {
		if r != "" {
			rows[i] = m.paint.bold(r)
		}
	}
	rows = append(rows, p.reminder)
	for i := range rows {
		rows[i] = align(rows[i:i+1], middle, width)[0]
	}
	return rows
}

// labels names the two ends of the movement under the picture, and points to
// the one that the limb moves to.
func (m model) labels(p page, width int) []string {
	left, right := wrap(p.startLabel, width/2-1), wrap(p.endLabel, width/2-1)
	toLeft, toRight := p.toward == toStart, p.toward == toEnd
	if p.side == sessions.Left {
		left, right, toLeft, toRight = right, left, toRight, toLeft
	}
	var rows []string
	for i := range max(len(left), len(right)) {
		var l, r string
		if i < len(left) {
			l = left[i]
		}
		if i < len(right) {
			r = right[i]
		}
		arrow := ""
		if gap := width - ansi.StringWidth(l) - ansi.StringWidth(r) - 4; i == 0 && gap >= 3 {
			arrow = strings.Repeat("─", min(gap, width/5))
		}
		switch {
		case arrow == "":
		case toLeft:
			arrow = "◄" + arrow
		case toRight:
			arrow += "►"
		default:
			arrow = ""
		}
		rows = append(rows, threeParts(l, arrow, r, width))
	}
	return rows
}

// keysLine names the keys, short where the window is narrow.
func (m model) keysLine() string {
	var long, short []string
	for _, b := range bindings {
		if b.command == pacer.Enough && !m.inSet() {
			continue
		}
		says := b.running
		if m.status == paused {
			says = b.paused
		}
		short = append(short, m.paint.bold(b.key)+" "+says)
		long = append(long, m.paint.bold(b.key)+" "+says+b.more)
	}
	line := strings.Join(long, "     ")
	if ansi.StringWidth(line) > m.width-2 {
		line = strings.Join(short, "  ")
	}
	return line
}

// shorten leaves out what stands behind the last commas until text fits.
func shorten(text string, width int) string {
	for ansi.StringWidth(text) > width {
		i := strings.LastIndex(text, ", ")
		if i < 0 {
			break
		}
		text = text[:i]
	}
	return text
}

// fit puts left and right at the ends of a row; left gives way.
func fit(left, right string, width int) string {
	left = ansi.Truncate(left, max(0, width-ansi.StringWidth(right)-1), "…")
	return left + strings.Repeat(" ", max(0, width-ansi.StringWidth(left)-ansi.StringWidth(right))) + right
}

// threeParts puts three texts at the left, in the middle and at the right of
// a row.
func threeParts(l, m, r string, width int) string {
	lw, mw, rw := ansi.StringWidth(l), ansi.StringWidth(m), ansi.StringWidth(r)
	start := max(lw, min((width-mw)/2, width-rw-mw-1))
	return l + strings.Repeat(" ", max(0, start-lw)) + m + strings.Repeat(" ", max(0, width-start-mw-rw)) + r
}

// align moves rows together to a place in the width.
func align(rows []string, at place, width int) []string {
	widest := 0
	for _, r := range rows {
		widest = max(widest, ansi.StringWidth(r))
	}
	indent := 0
	switch at {
	case middle:
		indent = (width - widest) / 2
	case atRight:
		indent = width - widest
	}
	for i, r := range rows {
		if r != "" {
			rows[i] = strings.Repeat(" ", max(0, indent)) + r
		}
	}
	return rows
}

func wrap(text string, width int) []string {
	if text == "" {
		return nil
	}
	return strings.Split(ansi.Wrap(text, width, ""), "\n")
}
