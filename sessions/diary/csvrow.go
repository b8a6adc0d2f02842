package diary

import "bufio"

// WriteRow writes one line of RFC 4180, as [ExportCSV] does. A cell is text, a number, a
// truth value, or nil if it is not known. A failed write shows when b is flushed.
func WriteRow(b *bufio.Writer, cells ...any) {
	line := make([]string, len(cells))
	for i, c := range cells {
		line[i] = cellText(c)
	}
	writeLine(b, line)
}
