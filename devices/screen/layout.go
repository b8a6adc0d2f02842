package screen

import (
	"cmp"
	"fmt"
	"strings"

	"github.com/charmbracelet/x/ansi"

	"glidepace/devices/screen/scene"
	"glidepace/sessions"
)

// The smallest window in which everything has its place.
const minWidth, minHeight = 40, 12

// A window with fewer rows gets no blank ones, and its large word takes one row.
const roomyHeight = 18

// draw lays the screen out: exactly the window's height, never wider.
func (m model) draw() string {
	if m.width <= 0 || m.height <= 0 {
		return ""
	}
	if m.Timeline == nil {
		return strings.Repeat("\n", m.height-1) + ansi.Truncate(" "+m.keysLine(m.width-2), m.width, "")
	}
	p := m.Page()
	if m.width < minWidth || m.height < minHeight {
		return m.tooSmall(p)
	}

	width := m.width - 2 // a blank column on either side
	roomy := m.height >= roomyHeight
	var top []string
	if roomy {
		top = append(top, m.paint.bold(fit(p.Title, p.Left, width)), p.Where, "")
	} else {
		top = append(top, m.paint.bold(fit(p.WhereShort, p.Left, width)))
	}
	top = append(top, m.largeWord(p, width)...)
	if roomy {
		top = append(top, "")
	}

	foot := m.keys(width, m.height-len(top)-len(wrap(p.Text, width))-2)
	if p.Next != "" {
		foot = append([]string{shorten(p.Next, width)}, foot...)
	}
	if roomy {
		foot = append([]string{""}, foot...)
	}
	text := m.text(p, width, m.height-len(top)-len(foot))
	labels := m.labels(p, width)
	rows := m.height - len(top) - len(labels) - len(text) - len(foot)
	var drawn []string
	if c := picture(p, width, rows); c != nil {
		drawn = append(c.lines(m.paint), labels...)
	}

	return m.fill(append(append(top, drawn...), text...), foot)
}

// fill makes one text of all rows, with the foot at the bottom of the window.
func (m model) fill(lines, foot []string) string {
	room := m.height - len(foot)
	for len(lines) > room && lines[len(lines)-1] == "" {
		lines = lines[:len(lines)-1]
	}
	if len(lines) > room {
		lines = lines[:room]
		lines[room-1] += "…"
	}
	for len(lines) < room {
		lines = append(lines, "")
	}
	lines = append(lines, foot...)
	for i, l := range lines {
		if l != "" {
			lines[i] = " " + ansi.Truncate(l, m.width-2, "…")
		}
	}
	return strings.Join(lines, "\n")
}

// tooSmall says the essential words and asks for a larger window.
func (m model) tooSmall(p scene.Page) string {
	first := wrap(strings.TrimSpace(p.Word+" "+p.Seconds), m.width)
	keys := wrap(m.keysLine(m.width), m.width)
	lines := append(first, wrap(p.Text, m.width)...)
	switch {
	case p.Instructions != nil:
		lines = append(first, instructionRows(p, m.width, m.height-len(first)-len(keys))...)
	case !m.StandsForSymptoms():
		lines = append(lines, wrap(p.WhereShort, m.width)...)
	}
	lines = append(lines, keys...)
	if m.Status != scene.Ended {
		lines = append(lines, wrap("Please make this window larger: 40 columns by 12 rows.", m.width)...)
	}
	lines = lines[:min(len(lines), m.height)]
	for i, l := range lines {
		lines[i] = ansi.Truncate(l, m.width, "")
	}
	return strings.Join(lines, "\n")
}

// instructionRows lays the instructions out, a row for each sentence where no
// picture needs the room. If they take more than most rows, they are shown in
// parts, each for as long as its share of the words.
func instructionRows(p scene.Page, width, most int) []string {
	between := "\n"
	if p.Arm != scene.NoArm {
		between = " "
	}
	words := func(texts ...string) int { return len(strings.Fields(strings.Join(texts, " "))) }
	part, before := "", 0
	for _, t := range p.Instructions {
		switch longer := part + between + t; {
		case part == "":
			part = t
		case len(wrap(longer, width)) <= most:
			part = longer
		case p.Elapsed*float64(words(p.Instructions...)) < float64(before):
			return wrap(part, width)
		default:
			part = t
		}
		before += words(t)
	}
	return wrap(part, width)
}

// largeWord returns the breath word and the seconds left, as large as the window
// allows. It takes the same rows whatever it says. Inhale stands on the left and
// exhale on the right, since the words look alike from afar.
func (m model) largeWord(p scene.Page, width int) []string {
	const longest = "EXHALE 00"
	scale := min(width/textWidth(longest, 1), m.height/17)
	switch {
	case scale > 0:
		text := p.Word
		if with := p.Word + " " + p.Seconds; textWidth(with, scale) <= width {
			text = with
		}
		return indent(large(text, scale, m.paint), p.WordAt, textWidth(text, scale), width)
	case width >= max(textWidth("EXHALE", 1), textWidth(p.Word, 1)) && m.height >= 24:
		// A narrow, high window, such as a phone's: the seconds below.
		rows := append(large(p.Word, 1, m.paint), "")
		rows = append(rows, large(fmt.Sprintf("%*s", len(p.Word), p.Seconds), 1, m.paint)...)
		return indent(rows, p.WordAt, textWidth(p.Word, 1), width)
	}
	spaced := strings.Join(strings.Split(p.Word, ""), " ") + "   " + p.Seconds
	return indent([]string{m.paint.bold(spaced)}, p.WordAt, len(spaced), width)
}

// text returns what to do, with the reminder below it. It keeps as many rows as
// the longest text of a repetition needs; instructions take at most most rows.
func (m model) text(p scene.Page, width, most int) []string {
	rows := wrap(p.Text, width)
	if p.Instructions != nil {
		rows = instructionRows(p, width, most)
	}
	for _, t := range p.TextRoom {
		for len(rows) < len(wrap(t, width)) {
			rows = append(rows, "")
		}
	}
	rows = append(rows, p.Reminder)
	for i, r := range rows {
		if r != "" && i < len(rows)-1 {
			r = m.paint.bold(r)
		}
		rows[i] = indent([]string{r}, scene.Middle, ansi.StringWidth(r), width)[0]
	}
	return rows
}

// labels names the two ends of the movement under the picture. Where there is
// room, an arrow points to the one that the limb moves to.
func (m model) labels(p scene.Page, width int) []string {
	left, right := wrap(p.StartLabel, width/2-1), wrap(p.EndLabel, width/2-1)
	margin := ""
	if p.Far < 1 { // the end's name stands under the end of the shorter path, or near it
		whole := width
		width = int(p.Far*float64(width)) + ansi.StringWidth(p.EndLabel)/2
		width = min(whole, max(width, widest(left)+1+widest(right)))
		if p.Side == sessions.Left {
			margin = strings.Repeat(" ", whole-width)
		}
	}
	toLeft := p.Toward == scene.ToStart
	if p.Side == sessions.Left {
		left, right, toLeft = right, left, p.Toward == scene.ToEnd
	}
	rows := make([]string, max(len(left), len(right)))
	for i := range rows {
		var l, arrow, r string
		if i < len(left) {
			l = left[i]
		}
		if i < len(right) {
			r = right[i]
		}
		gap := width - ansi.StringWidth(l) - ansi.StringWidth(r)
		if length := min(gap-5, width/5); i == 0 && length >= 3 && p.Toward != scene.Still {
			arrow = strings.Repeat("─", length) + "►"
			if toLeft {
				arrow = "◄" + strings.Repeat("─", length)
			}
		}
		gap -= ansi.StringWidth(arrow)
		rows[i] = margin + l + strings.Repeat(" ", gap/2) + arrow + strings.Repeat(" ", gap-gap/2) + r
	}
	return rows
}

// keys names the keys. While the session stands still for symptoms each has a row
// or more of its own, if possible in most rows altogether.
func (m model) keys(width, most int) []string {
	if !m.StandsForSymptoms() {
		return []string{m.keysLine(width)}
	}
	rows := m.keyRows(width, func(h hint) string { return h.long })
	if len(rows) > most {
		rows = m.keyRows(width, func(h hint) string { return cmp.Or(h.brief, h.long) })
	}
	return rows
}

func (m model) keyRows(width int, says func(hint) string) []string {
	room := 0
	for _, h := range keyHints[m.Status] {
		room = max(room, len(h.key)+2)
	}
	var rows []string
	if m.Deaf() {
		rows = []string{strings.Repeat(" ", room) + scene.AMoment, ""}
	}
	for _, h := range m.hints() {
		key := strings.Repeat(" ", room-len(h.key)-2) + m.paint.bold(h.key) + ": "
		for _, s := range wrap(says(h), width-room) {
			rows = append(rows, key+s)
			key = strings.Repeat(" ", room)
		}
	}
	return rows
}

// keysLine names the keys in one line, short where the room is narrow.
func (m model) keysLine(width int) string {
	var long, short, few []string
	if m.Deaf() {
		long, short, few = []string{scene.AMoment}, []string{scene.AMoment}, []string{scene.AMoment}
	}
	for _, h := range m.hints() {
		key := m.paint.bold(h.key) + " "
		long, short = append(long, key+h.long), append(short, key+h.short)
		if !h.optional {
			few = append(few, key+h.short)
		}
	}
	line := strings.Join(long, "     ")
	if ansi.StringWidth(line) > width {
		line = strings.Join(short, "  ")
	}
	if ansi.StringWidth(line) <= width || m.width < minWidth { // such a window wraps it
		return line
	}
	if line = strings.Join(short, "│"); ansi.StringWidth(line) > width {
		line = strings.Join(few, "│")
	}
	return line
}

// hints returns the keys that mean something now.
func (m model) hints() []hint {
	var now []hint
	for _, h := range keyHints[m.Status] {
		if h.inSet && !m.InSet() || h.neck && !m.Neck() || h.later && m.Deaf() {
			continue
		}
		now = append(now, h)
	}
	return now
}

// shorten cuts text at its last commas until it fits.
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

// fit puts left and right at the ends of a row, and cuts left if need be.
func fit(left, right string, width int) string {
	left = ansi.Truncate(left, max(0, width-ansi.StringWidth(right)-1), "…")
	return left + strings.Repeat(" ", max(0, width-ansi.StringWidth(left)-ansi.StringWidth(right))) + right
}

// indent moves a block of rows to its place in the width.
func indent(rows []string, at scene.Place, taken, width int) []string {
	by := 0
	switch at {
	case scene.Middle:
		by = max(0, (width-taken)/2)
	case scene.AtRight:
		by = max(0, width-taken)
	}
	for i, r := range rows {
		if r != "" {
			rows[i] = strings.Repeat(" ", by) + r
		}
	}
	return rows
}

func widest(rows []string) (n int) {
	for _, r := range rows {
		n = max(n, ansi.StringWidth(r))
	}
	return n
}

func wrap(text string, width int) []string {
	if text == "" {
		return nil
	}
	return strings.Split(ansi.Wrap(text, width, ""), "\n")
}
