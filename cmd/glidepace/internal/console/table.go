package console

import (
	"io"
	"strings"
	"unicode/utf8"

	"glidepace/sessions/plaintext"
)

// Table writes rows of cells in columns, once it is flushed. It fits the width of a
// terminal: cells of the widest columns go on below, but no word is broken. What
// others wrote is harmless in a cell.
type Table struct {
	out  *Printer
	rows [][]string
}

// NewTable makes a table as wide as a [Printer].
func NewTable(w io.Writer) *Table { return &Table{out: NewPrinter(w)} }

// Row adds a row. One of a single cell is a line across all columns.
func (t *Table) Row(cells ...string) {
	for i, c := range cells {
		cells[i] = plaintext.Line(c)
	}
	t.rows = append(t.rows, cells)
}

const betweenColumns = 2

// Flush writes the rows and forgets them.
func (t *Table) Flush() error {
	widths := t.widths()
	for _, row := range t.rows {
		if len(row) == 1 {
			t.out.Wrap("", row[0])
			continue
		}
		t.write(row, widths)
	}
	t.rows = nil
	return t.out.Err
}

// widths returns how wide the columns are: as wide as their cells if there is room.
// Else the widest becomes narrower, but no narrower than its longest word.
func (t *Table) widths() []int {
	var widths, least []int
	for _, row := range t.rows {
		if len(row) == 1 {
			continue
		}
		for i, cell := range row {
			if i == len(widths) {
				widths, least = append(widths, 0), append(least, 0)
			}
			widths[i] = max(widths[i], utf8.RuneCountInString(cell))
			for _, word := range words(cell) {
				least[i] = max(least[i], utf8.RuneCountInString(word))
			}
		}
	}
	total := betweenColumns * (len(widths) - 1)
	for _, w := range widths {
		total += w
	}
	for ; total > t.out.Width; total-- {
		widest := -1
		for i, w := range widths {
			if w > least[i] && (widest < 0 || w > widths[widest]) {
				widest = i
			}
		}
		if widest < 0 {
			break
		}
		widths[widest]--
	}
	return widths
}

// write writes a row, on as many lines as its highest cell has.
func (t *Table) write(row []string, widths []int) {
	cells, height := make([][]string, len(row)), 0
	for i, text := range row {
		if utf8.RuneCountInString(text) <= widths[i] {
			cells[i] = []string{text}
		} else {
			cells[i] = Lines(widths[i], func(p *Printer) { p.Wrap("", text) })
		}
		height = max(height, len(cells[i]))
	}
	for n := range height {
		var line strings.Builder
		for i, lines := range cells {
			text := ""
			if n < len(lines) {
				text = lines[n]
			}
			line.WriteString(text)
			if i < len(cells)-1 {
				line.WriteString(strings.Repeat(" ", widths[i]+betweenColumns-utf8.RuneCountInString(text)))
			}
		}
		t.out.Line("%s", strings.TrimRight(line.String(), " "))
	}
}
