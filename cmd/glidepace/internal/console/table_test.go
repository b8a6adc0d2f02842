package console

import (
	"strings"
	"testing"
	"unicode/utf8"
)

func TestTable(t *testing.T) {
	const long = "stopped for tingling, not settled in time, worse until the next morning, extra"
	for _, c := range []struct {
		name, want string
		rows       [][]string
	}{
		{"columns as wide as their cells", "ID    DONE    OUTCOME\nab    1 of 1  completed\nabcd  2\n",
			[][]string{{"ID", "DONE", "OUTCOME"}, {"ab", "1 of 1", "completed"}, {"abcd", "2", ""}}},
		{"the widest goes on below", "2026-12-01 08:30  stopped for tingling, not settled in time, worse until the\n                  next morning, extra\n",
			[][]string{{"2026-12-01 08:30", long}}},
		{"a line across", strings.Repeat("word ", 15) + "word\nagain\na  b\n",
			[][]string{{strings.Repeat("word ", 16) + "again"}, {"a", "b"}}},
		{"no word is broken", strings.Repeat("w", 90) + "  a\n" + strings.Repeat(" ", 92) + "b\n",
			[][]string{{strings.Repeat("w", 90), "a b"}}},
		{"a sign and a unit stay with their number", strings.Repeat("w", 77) + "\n80 %\n70 s, " + strings.Repeat("w", 74) + "\n%\n",
			[][]string{{strings.Repeat("w", 77) + " 80 %"}, {"70 s, " + strings.Repeat("w", 74) + " %"}}},
		{"what others wrote", "a b  c\uFFFD[md\n", [][]string{{"a\nb", "c\x1b[md"}}},
	} {
		var out strings.Builder
		table := NewTable(&out)
		for _, row := range c.rows {
			table.Row(row...)
		}
		if err := table.Flush(); err != nil || out.String() != c.want {
			t.Errorf("%s: %v\n%s\nwant\n%s", c.name, err, &out, c.want)
		}
	}
}

// However wide the cells are, a line has no more than 80 columns.
func TestTableFits(t *testing.T) {
	var out strings.Builder
	table := NewTable(&out)
	for n := range 60 {
		table.Row("at26vyzcdp", "2026-12-01 08:30", strings.Repeat("ab ", n), strings.Repeat("of it ", 60-n))
	}
	if err := table.Flush(); err != nil {
		t.Fatal(err)
	}
	for line := range strings.Lines(out.String()) {
		if utf8.RuneCountInString(strings.TrimSuffix(line, "\n")) > textWidth {
			t.Errorf("too long: %s", line)
		}
	}
}
