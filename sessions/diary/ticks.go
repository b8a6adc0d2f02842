//go:build !js

package diary

import (
	"bytes"
	"encoding/csv"
	"errors"
	"fmt"
	"io"
	"slices"
	"strconv"
	"strings"
	"time"
	"unicode/utf8"

	"glidepace/sessions"
)

// maxTicks is the size of a file of ticks in bytes, at most.
const maxTicks = 1 << 20

// tickColumns are the columns that a file of ticks may have; the first two it
// must have.
var tickColumns = []string{"date", "done", "repetitions",
	"tingling_before", "pain_before", "tingling_after", "pain_after", "not_settled", "note", "n"}

// Sheet says what may have been ticked.
type Sheet struct {
	Repetitions  int                       // of a session, at most
	SettleWithin time.Duration             // how long symptoms have to settle
	CheckDate    func(sessions.Date) error // returns why a day cannot have been ticked
}

// ReadTicks reads a file of ticks, CSV in UTF-8 as spreadsheets write it: with
// commas or semicolons, with or without a byte order mark. Its first line names
// the columns, in any order. It must have date (2026-12-01 or 1.12.2026) and done
// (y, yes, x, 1 or true; or n, no, 0, false, - or blank). It may have repetitions
// (a total over both sides, or 8+6; blank: all that were asked for), tingling_before,
// pain_before, tingling_after and pain_after (0 to 10; blank: not rated), not_settled
// (y where symptoms were still there when they should have settled), note, and n (which
// of its day's sessions, 1 to 5; blank: 1).
//
// It returns the sessions that were done. The error is a [*sessions.Error] under
// the given name, with everything that is wrong.
func ReadTicks(name string, r io.Reader, sheet Sheet) ([]Tick, error) {
	t := &tickReader{sheet: sheet, seen: make(map[Tick]int)}
	src, err := io.ReadAll(io.LimitReader(r, maxTicks+1))
	if err != nil {
		return nil, fmt.Errorf("%s: %w", name, err)
	}
	t.read(src)
	if len(t.problems) > 0 {
		return nil, sessions.Join(name, &sessions.Error{File: name, Problems: t.problems})
	}
	return t.ticks, nil
}

type tickReader struct {
	sheet    Sheet
	lines    []string
	problems []sessions.Problem
	ticks    []Tick
	seen     map[Tick]int // line of a date and number

	csv     *csv.Reader
	columns []string       // names, in the order of the file
	index   map[string]int // of the columns
	cells   map[string]string
	width   int // cells of the line just read
	rows    int // that were not blank
}

func (t *tickReader) report(line, column int, format string, args ...any) {
	t.problems = append(t.problems, sessions.Problem{
		Place: sessions.Place{Line: line, Column: column}, Text: fmt.Sprintf(format, args...)})
}

// reportCell reports what is wrong in the line just read, at its cell of a column
// or, if it lacks that, at its first cell.
func (t *tickReader) reportCell(column, format string, args ...any) {
	cell := t.index[column]
	if cell >= t.width {
		cell = 0
	}
	line, at := t.csv.FieldPos(cell)
	text := t.lines[line-1]
	t.report(line, utf8.RuneCountInString(text[:min(at-1, len(text))])+1, format, args...)
}

func (t *tickReader) read(src []byte) {
	src = bytes.TrimPrefix(src, []byte("\uFEFF"))
	t.lines = strings.Split(string(src), "\n")
	if len(src) > maxTicks {
		t.report(1, 1, "the file is larger than %d KiB; a line for each session is all it needs", maxTicks>>10)
		return
	}
	for i, line := range t.lines {
		if !utf8.ValidString(line) || strings.Contains(line, "\x00") {
			t.report(i+1, 1, "this is not text in UTF-8; save the file as CSV in UTF-8")
			return
		}
	}
	t.csv = csv.NewReader(bytes.NewReader(src))
	t.csv.FieldsPerRecord = -1
	header, _, _ := strings.Cut(strings.TrimLeft(string(src), "\r\n"), "\n")
	if strings.Contains(header, ";") && !strings.Contains(header, ",") {
		t.csv.Comma = ';'
	}
	for {
		cells, err := t.csv.Read()
		var broken *csv.ParseError
		switch {
		case errors.Is(err, io.EOF):
			if len(t.columns) == 0 {
				t.report(1, 1, "the file is empty; its first line names the columns: %s", strings.Join(tickColumns, ","))
			} else if t.rows == 0 && len(t.problems) == 0 {
				t.report(1, 1, "below its first line the file has none for a session")
			}
			return
		case errors.As(err, &broken):
			t.report(broken.Line, max(1, broken.Column), "a quote is in the wrong place (%v); put a cell that holds a quote in quotes, and double each quote inside it", broken.Err)
			return // what follows may be taken for anything
		case len(t.columns) == 0:
			if !t.header(cells) {
				return
			}
		default:
			t.row(cells)
		}
	}
}

// header reads the names of the columns and reports whether they are sound.
func (t *tickReader) header(names []string) bool {
	t.index = make(map[string]int)
	allowed := "allowed are " + strings.Join(tickColumns, ", ")
	for i, name := range names {
		name = strings.ToLower(strings.TrimSpace(name))
		t.columns = append(t.columns, name)
		line, at := t.csv.FieldPos(i)
		_, twice := t.index[name]
		switch {
		case twice:
			t.report(line, at, "the column %.40q stands twice", name)
		case !slices.Contains(tickColumns, name):
			t.report(line, at, "there is no column %.40q; %s", name, allowed)
		default:
			t.index[name] = i
		}
	}
	for _, name := range tickColumns[:2] {
		if _, ok := t.index[name]; !ok {
			t.report(1, 1, "the column %q is missing; the first line names the columns: %s", name, allowed)
		}
	}
	return len(t.problems) == 0
}

// row reads the line of one session.
func (t *tickReader) row(cells []string) {
	blank := true
	t.cells, t.width = make(map[string]string), len(cells)
	for i, cell := range cells {
		cell = strings.TrimSpace(cell)
		blank = blank && cell == ""
		switch {
		case i < len(t.columns):
			t.cells[t.columns[i]] = cell
		case cell != "":
			line, at := t.csv.FieldPos(i)
			t.report(line, at, "%.40q is in no column; put text that holds a comma or semicolon in quotes", cell)
			return
		}
	}
	if blank {
		return
	}
	t.rows++
	before := len(t.problems)
	tick := Tick{
		Date: t.date(), Number: t.whole("n", 1), Repetitions: t.repetitions(), All: t.cells["repetitions"] == "",
		Before:     sessions.Ratings{Tingling: t.rating("tingling_before"), Pain: t.rating("pain_before")},
		After:      sessions.Ratings{Tingling: t.rating("tingling_after"), Pain: t.rating("pain_after")},
		NotSettled: t.yes("not_settled"), Note: t.cells["note"],
	}
	done := t.yes("done")
	if len(t.problems) == before { // else it is not known what the line says
		t.once(tick)
		if !done {
			t.nothingDone()
		}
	}
	if !done {
		tick = Tick{Date: tick.Date, Number: tick.Number, Repetitions: t.sheet.Repetitions}
	}
	for _, f := range tick.faults(t.sheet.Repetitions) {
		if f.column != "date" {
			t.reportCell(f.column, "%s", f.text)
		}
	}
	if done {
		t.ticks = append(t.ticks, tick)
	}
}

// once reports a session that an earlier line has too.
func (t *tickReader) once(tick Tick) {
	line, _ := t.csv.FieldPos(0)
	key := Tick{Date: tick.Date, Number: tick.Number}
	if first, twice := t.seen[key]; twice {
		t.reportCell("date", "%s, number %d, stands in line %d already; number a day's sessions in a column n", tick.Date, tick.Number, first)
		return
	}
	t.seen[key] = line
}

// nothingDone reports what the line says of a session that was not done.
func (t *tickReader) nothingDone() {
	for _, column := range tickColumns[2:] {
		cell := t.cells[column]
		no := column == "repetitions" && cell == "0" || column == "not_settled" && !t.yes(column)
		if cell != "" && column != "n" && !no {
			t.reportCell(column, "%.40q is of a session that was not done; write y in the column done, or leave this blank", cell)
		}
	}
}

// date reads the date. In some countries spreadsheets write it with dots, day
// first. With slashes nobody could tell day and month apart.
func (t *tickReader) date() string {
	cell := t.cells["date"]
	for _, form := range []string{time.DateOnly, "2.1.2006"} {
		if day, err := time.Parse(form, cell); err == nil {
			date := sessions.DateOf(day)
			if err := t.sheet.CheckDate(date); err != nil {
				t.reportCell("date", "%v", err)
			}
			return date.String()
		}
	}
	t.reportCell("date", "%.40q is no date; a date is written as 2026-12-01", cell)
	return ""
}

// yes reads a cell that says yes or no. If it cannot be read, the line is checked as if
// it said yes.
func (t *tickReader) yes(column string) bool {
	cell := t.cells[column]
	switch strings.ToLower(cell) {
	case "", "n", "no", "0", "false", "-":
		return false
	case "y", "yes", "x", "1", "true":
	default:
		t.reportCell(column, "%s is %.40q; allowed is y for yes, n or nothing for no", column, cell)
	}
	return true
}

// whole reads a whole number. blank is the value of a cell that is blank or cannot
// be read.
func (t *tickReader) whole(column string, blank int) int {
	cell := t.cells[column]
	if cell == "" {
		return blank
	}
	n, err := strconv.ParseUint(cell, 10, 31)
	if err != nil {
		t.reportCell(column, "%.40q is not a whole number", cell)
		return blank
	}
	return int(n)
}

// repetitions reads how many were done: a total, or a sum of two sides.
func (t *tickReader) repetitions() int {
	first, second, two := strings.Cut(t.cells["repetitions"], "+")
	a, err := strconv.ParseUint(first, 10, 16)
	b, err2 := strconv.ParseUint(second, 10, 16)
	if two && err == nil && err2 == nil {
		return int(a + b)
	}
	return t.whole("repetitions", t.sheet.Repetitions)
}

func (t *tickReader) rating(column string) *int {
	if t.cells[column] == "" {
		return nil
	}
	n := t.whole(column, 0)
	return &n
}
