package diary

import (
	"bufio"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"iter"
	"strconv"
	"strings"
	"time"

	"glidepace/sessions/plaintext"
)

// columns of the CSV export. A cell is text, a number, a truth value, or nil if
// it is not known. New columns come last, so that the others stay in place.
var columns = []struct {
	name string
	cell func(*Session) any
}{
	{"id", func(s *Session) any { return s.ID }},
	{"title", func(s *Session) any { return s.Title }},
	{"patient", func(s *Session) any { return s.Patient }},
	{"prescription", func(s *Session) any { return s.Prescription }},
	{"date", func(s *Session) any { return s.Date }},
	{"started", func(s *Session) any { return rfc3339(s.Started) }},
	{"ended", func(s *Session) any { return rfc3339(s.Ended) }},
	{"length_s", func(s *Session) any { return s.Length.Seconds() }},
	{"planned_sets", func(s *Session) any { return s.Planned.Sets }},
	{"planned_repetitions", func(s *Session) any { return s.Planned.Repetitions }},
	{"planned_breaths", func(s *Session) any { return s.Planned.Breaths }},
	{"done_sets", func(s *Session) any { return s.Done.Sets }},
	{"done_repetitions", func(s *Session) any { return s.Done.Repetitions }},
	{"done_breaths", func(s *Session) any { return s.Done.Breaths }},
	{"rate_start_per_min", func(s *Session) any { return s.RateStart }},
	{"rate_end_per_min", func(s *Session) any { return s.RateEnd }},
	{"match", func(s *Session) any { return s.Match }},
	{"sound", func(s *Session) any { return s.Sound }},
	{"outcome", func(s *Session) any { return string(s.Outcome) }},
	{"reason", func(*Session) any { return "" }}, // no version gave one; it holds the place of the others
	{"source", func(s *Session) any { return s.Source }},
	{"extra", func(s *Session) any { return s.Extra }},
	{"tingling_before", func(s *Session) any { return rating(s.Before.Tingling) }},
	{"pain_before", func(s *Session) any { return rating(s.Before.Pain) }},
	{"tingling_after", func(s *Session) any { return rating(s.After.Tingling) }},
	{"pain_after", func(s *Session) any { return rating(s.After.Pain) }},
	{"settled", func(s *Session) any { return known(s.Settling != nil, func() any { return s.Settling.Settled }) }},
	{"settled_after_s", func(s *Session) any {
		return known(s.Settling != nil && s.Settling.Settled, func() any { return s.Settling.After })
	}},
	{"stops", func(s *Session) any { return len(s.Stops) }},
	{"symptom", func(s *Session) any { return string(s.Symptom()) }},
	{"notes", func(s *Session) any {
		var texts []string
		for _, n := range s.Notes {
			texts = append(texts, n.Text)
		}
		return strings.Join(texts, "\n")
	}},
	{"plan", func(s *Session) any { return s.Plan }},
	{"number", func(s *Session) any { return known(s.Number > 0, func() any { return s.Number }) }},
	{"boot", func(s *Session) any { return known(s.Boot != nil, func() any { return s.Boot.ID }) }},
	{"since_boot_s", func(s *Session) any {
		return known(s.Boot != nil && s.Boot.Clock.IsZero(), func() any { return s.Boot.Since })
	}},
	{"felt", func(s *Session) any { return string(s.Felt) }},
	{"diary", func(s *Session) any { return s.Diary }},
	{"place", func(s *Session) any { return known(s.Place > 0, func() any { return int(s.Place) }) }},
	{"stops_in_set", func(s *Session) any {
		n := 0
		for _, stop := range s.Stops {
			if stop.InSet {
				n++
			}
		}
		return n
	}},
	{"ended_by", func(s *Session) any { return string(s.EndedBy) }},
	{"not_in_time", func(s *Session) any { return s.NotInTime }},
	{"cleared", func(s *Session) any { return s.Cleared }},
	{"next_morning", func(s *Session) any { return string(s.NextMorning) }},
	{"wrong_clock", func(s *Session) any { return known(s.Boot != nil, func() any { return rfc3339(s.Boot.Clock) }) }},
	{"wrong_day", func(s *Session) any { return s.WrongDay }},
	{"unread", func(s *Session) any { return strings.Join(s.Unread, "; ") }},
}

// known returns a cell's value if it is known.
func known(is bool, value func() any) any {
	if !is {
		return nil
	}
	return value()
}

func rating(n *int) any { return known(n != nil, func() any { return *n }) }

// rfc3339 is a time with its offset, "" if not known.
func rfc3339(t time.Time) string {
	if t.IsZero() {
		return ""
	}
	return t.Format(time.RFC3339Nano)
}

// ExportCSV writes one line a session after a line of column names, as
// RFC 4180 has it: lines end with CRLF, and what holds a comma, a quote or a
// line break is quoted. Times are RFC 3339 with the local offset.
//
// Text that a spreadsheet would take for a formula gets an apostrophe before
// it: a title could otherwise fetch a page or run a program on the computer where
// the clinic opens the file. Numbers stay numbers.
func ExportCSV(w io.Writer, list iter.Seq2[Session, error]) error {
	b := bufio.NewWriter(w)
	line := make([]string, len(columns))
	for i, c := range columns {
		line[i] = c.name
	}
	writeLine(b, line)
	for s, err := range list {
		if err != nil {
			return errors.Join(err, b.Flush())
		}
		for i, c := range columns {
			line[i] = cellText(c.cell(&s))
		}
		writeLine(b, line)
	}
	return b.Flush()
}

func cellText(value any) string {
	switch v := value.(type) {
	case nil:
		return ""
	case float64:
		return strconv.FormatFloat(v, 'f', -1, 64)
	case string:
		return defuse(v)
	}
	return fmt.Sprint(value)
}

// defuse keeps a spreadsheet from taking text for a formula.
func defuse(text string) string {
	if strings.IndexAny(text, "=+-@\t\r\n＝＋－＠") == 0 {
		return "'" + text
	}
	return text
}

// writeLine writes one line of RFC 4180. (encoding/csv, with CRLF, changes the
// line breaks inside a cell.) A failed write shows when b is flushed.
func writeLine(b *bufio.Writer, cells []string) {
	for i, c := range cells {
		if i > 0 {
			b.WriteByte(',')
		}
		if strings.ContainsAny(c, ",\"\r\n") {
			c = `"` + strings.ReplaceAll(c, `"`, `""`) + `"`
		}
		b.WriteString(c)
	}
	b.WriteString("\r\n")
}

// ExportJSON writes an array of sessions, with their events if they have them. Times are RFC 3339
// with the local offset; a time that is not known is left out.
func ExportJSON(w io.Writer, list iter.Seq2[Session, error]) error {
	b := bufio.NewWriter(w)
	between := "["
	for s, err := range list {
		text := []byte(nil)
		if err == nil {
			text, err = json.Marshal(s)
		}
		if err != nil {
			return errors.Join(err, b.Flush())
		}
		b.WriteString(between + "\n")
		between = ","
		b.Write(plaintext.JSON(text))
	}
	if between == "[" {
		b.WriteString(between)
	}
	b.WriteString("\n]\n")
	return b.Flush()
}

// ExportJSONL writes a JSON object a line, with the columns of [ExportCSV] by name. What is
// not known, or an empty text, is null. A plan is an object, or text if it cannot be read.
func ExportJSONL(w io.Writer, list iter.Seq2[Session, error]) error {
	b := bufio.NewWriter(w)
	for s, err := range list {
		var line []byte
		for i, c := range columns {
			value := c.cell(&s)
			switch {
			case value == "":
				value = nil
			case c.name == "plan":
				value = object(s.Plan)
			}
			text, wrong := json.Marshal(value)
			err = errors.Join(err, wrong)
			line = fmt.Appendf(line, "%c%q:%s", "{,"[min(i, 1)], c.name, text)
		}
		if err != nil {
			return errors.Join(err, b.Flush())
		}
		b.Write(append(plaintext.JSON(line), "}\n"...))
	}
	return b.Flush()
}

// object returns what a JSON text says, or the text if it is none. So is one with a NUL,
// which databases refuse.
func object(text string) any {
	var value map[string]any
	if json.Unmarshal([]byte(text), &value) != nil || strings.Contains(text, `\u0000`) {
		return text
	}
	return value
}
