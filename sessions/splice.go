package sessions

import (
	"bytes"
	"cmp"
	"errors"
	"fmt"
	"reflect"
	"slices"
	"strconv"
	"strings"
	"unicode/utf8"

	"gopkg.in/yaml.v3"

	"glidepace/sessions/fields"
)

// Tuning is the breath that a session file is tuned to.
type Tuning struct {
	Rate   float64 // breaths per minute, 3–30
	Ratio  Ratio   // inhale to exhale, each part 0.1–10
	Taper  *Taper  // nil for none
	LeadIn int     // breaths at rest before the first exercise, 0–60
}

// Splice returns the text of a session file with its rate, ratio, taper and
// lead-in set to t; file is its name for messages.
//
// Only the places at which the parser finds these fields are touched. The rest
// stays byte for byte: comments, blank lines, layout, line ends, byte order
// mark. A field that is absent is added beside its neighbours and in their
// style. Where the file gives inhale and exhale as lengths, rate takes the
// place of inhale and ratio that of exhale. A taper that goes leaves its
// comments behind.
//
// The result has been read again: it means t, and else what the file meant.
// Otherwise there is an error, as for a file that has problems (an *Error) or
// one in which the fields are written in a way that cannot be spliced.
func Splice(file string, src []byte, t Tuning) ([]byte, error) {
	was, err := Parse(file, bytes.NewReader(src))
	if err != nil {
		return nil, err
	}
	out, err := splice(src, t)
	if err != nil {
		return nil, fmt.Errorf("%s: %w; nothing is changed: edit the file by hand", file, err)
	}
	now, err := Parse(file, bytes.NewReader(out))
	if err != nil {
		return nil, fmt.Errorf("%s: the breath cannot be written into the file, it would no longer be sound; nothing is changed: %w", file, err)
	}
	want := *was
	b := &want.Breath
	b.Rate, b.Ratio, b.Inhale, b.Exhale, b.Taper = t.Rate, t.Ratio, 0, 0, t.Taper
	want.LeadIn = t.LeadIn
	want.places, now.places = nil, nil
	if !reflect.DeepEqual(&want, now) {
		return nil, fmt.Errorf("%s: the breath is laid out in a way that cannot be changed in place; nothing is changed: edit the file by hand", file)
	}
	return out, nil
}

// splice does the work of Splice on a file without problems.
func splice(src []byte, t Tuning) ([]byte, error) {
	root := fields.Document(src, fields.SessionFile)
	s := newSplicer(src)
	breath := s.field(root, "breath")
	s.breath(breath.value, t)
	if f := s.field(root, "lead_in"); f != nil {
		s.number(s.field(f.value, "breaths"), float64(t.LeadIn))
	} else if t.LeadIn > 0 {
		s.insert(root, breath, false, breath.beside("lead_in", "{"+breath.beside("breaths", strconv.Itoa(t.LeadIn))+"}"))
	}
	return s.apply()
}

func (s *splicer) breath(n *yaml.Node, t Tuning) {
	rate, ratio := s.field(n, "rate"), s.field(n, "ratio")
	if inhale := s.field(n, "inhale"); inhale != nil {
		rate, ratio = inhale, s.field(n, "exhale")
		s.rename(rate, "rate")
		s.rename(ratio, "ratio")
	}
	s.number(rate, t.Rate)
	ratioText := decimal(t.Ratio.Inhale) + ":" + decimal(t.Ratio.Exhale)

	after := ratio
	var missing []string
	if ratio != nil {
		s.ratio(ratio, t.Ratio, ratioText)
	} else {
		after = rate
		missing = append(missing, after.beside("ratio", strconv.Quote(ratioText)))
	}
	taper := s.field(n, "taper")
	goes := taper != nil && t.Taper == nil
	switch {
	case goes:
		s.remove(n, taper)
	case taper != nil:
		s.number(s.field(taper.value, "from"), t.Taper.From)
		s.number(s.field(taper.value, "breaths"), float64(t.Taper.Breaths))
	case t.Taper != nil:
		missing = append(missing, after.beside("taper", "{"+after.beside("from", decimal(t.Taper.From))+", "+
			after.beside("breaths", strconv.Itoa(t.Taper.Breaths))+"}"))
	}
	s.insert(n, after, goes, missing...)
}

func decimal(f float64) string { return strconv.FormatFloat(f, 'f', -1, 64) }

// splicer collects edits of a text. Offsets are in bytes.
type splicer struct {
	src   []byte
	lines []int // where each line begins
	edits []edit
	err   error // the first
}

// edit puts text in the place of the bytes from and up to to.
type edit struct {
	from, to int
	text     string
}

// field is a key with its value in the text: the value ends before end.
type field struct {
	key, value *yaml.Node
	from, end  int
}

// beside writes a field that is to stand beside f: its key in double quotes if
// that of f is, as in JSON.
func (f *field) beside(key, value string) string {
	if f.key.Style&yaml.DoubleQuotedStyle != 0 {
		key = strconv.Quote(key)
	}
	return key + ": " + value
}

func newSplicer(src []byte) *splicer {
	s := &splicer{src: src, lines: []int{0}}
	if bytes.HasPrefix(src, []byte("\uFEFF")) {
		s.lines[0] = len("\uFEFF")
	}
	for i, c := range src {
		if c == '\n' {
			s.lines = append(s.lines, i+1)
		}
	}
	return s
}

// apply returns the text with all edits made.
func (s *splicer) apply() ([]byte, error) {
	if s.err != nil {
		return nil, s.err
	}
	slices.SortStableFunc(s.edits, func(a, b edit) int { return cmp.Or(a.from-b.from, a.to-b.to) })
	var out []byte
	at := 0
	for _, e := range s.edits {
		if e.from < at {
			return nil, errors.New("the breath is written in a way that cannot be changed in place")
		}
		out = append(append(out, s.src[at:e.from]...), e.text...)
		at = e.to
	}
	return append(out, s.src[at:]...), nil
}

func (s *splicer) replace(from, to int, text string) {
	s.edits = append(s.edits, edit{from, to, text})
}

// offset returns where a node begins.
func (s *splicer) offset(n *yaml.Node) int {
	at := s.lines[n.Line-1]
	for range n.Column - 1 {
		_, size := utf8.DecodeRune(s.src[at:])
		at += size
	}
	return at
}

// field returns the field of a mapping, nil where it is absent.
func (s *splicer) field(m *yaml.Node, key string) *field {
	for i := 0; i+1 < len(m.Content); i += 2 {
		if k := m.Content[i]; k.Value == key {
			v := m.Content[i+1]
			return &field{k, v, s.offset(k), s.end(v)}
		}
	}
	return nil
}

// end returns where the text of a node ends, the comments after it not
// counted. The parser does not say.
func (s *splicer) end(n *yaml.Node) int {
	at := s.offset(n)
	switch {
	case n.Kind != yaml.ScalarNode && n.Style&yaml.FlowStyle != 0:
		depth := 0
		return 1 + s.scan(at, func(i int) bool {
			switch s.src[i] {
			case '{':
				depth++
			case '}':
				depth--
			}
			return depth == 0
		})
	case n.Kind != yaml.ScalarNode:
		return s.end(n.Content[len(n.Content)-1])
	case n.Style&(yaml.DoubleQuotedStyle|yaml.SingleQuotedStyle) != 0:
		return s.closingQuote(at)
	case n.Style == 0 && bytes.HasPrefix(s.src[at:], []byte(n.Value)):
		return at + len(n.Value)
	}
	s.fail(n)
	return at
}

func (s *splicer) fail(n *yaml.Node) {
	if s.err == nil {
		s.err = fmt.Errorf("line %d: %s is written in a way that cannot be changed in place", n.Line, fields.Quote(n.Value))
	}
}

// closingQuote returns where the quoted text that begins at at ends.
func (s *splicer) closingQuote(at int) int {
	q := s.src[at]
	for i := at + 1; i < len(s.src); i++ {
		switch c := s.src[i]; {
		case c == '\\' && q == '"':
			i++
		case c == q && q == '\'' && i+1 < len(s.src) && s.src[i+1] == q:
			i++
		case c == q:
			return i + 1
		}
	}
	return len(s.src)
}

// scan returns the first byte from at on, outside quotes and comments, for
// which stop is true; a comment shows its # alone. Nothing else in breath and
// lead_in has a # or a quote in it: their values are numbers and a few words.
func (s *splicer) scan(at int, stop func(i int) bool) int {
	for ; at < len(s.src) && !stop(at); at++ {
		switch s.src[at] {
		case '"', '\'':
			at = s.closingQuote(at) - 1
		case '#':
			at = s.lineEnd(at) - 1
		}
	}
	return at
}

// comma reports whether a field of a mapping in braces ends at i.
func (s *splicer) comma(i int) bool { return s.src[i] == ',' || s.src[i] == '}' }

// lineEnd returns the end of the line that holds at, its line break not
// counted.
func (s *splicer) lineEnd(at int) int {
	end := len(s.src)
	if i := bytes.IndexByte(s.src[at:], '\n'); i >= 0 {
		end = at + i
	}
	if end > at && s.src[end-1] == '\r' {
		end--
	}
	return end
}

// nextLine returns the begin of the line after the one that holds at; false
// on a last line that no line break ends.
func (s *splicer) nextLine(at int) (int, bool) {
	if i := bytes.IndexByte(s.src[at:], '\n'); i >= 0 {
		return at + i + 1, true
	}
	return len(s.src), false
}

// lineBreak is what ends the lines of the file.
func (s *splicer) lineBreak() string {
	if i := bytes.IndexByte(s.src, '\n'); i > 0 && s.src[i-1] == '\r' {
		return "\r\n"
	}
	return "\n"
}

// lead returns what stands before at in its line, and whether that is white
// space alone.
func (s *splicer) lead(at int) (string, bool) {
	begin := 0
	for _, l := range s.lines {
		if l > at {
			break
		}
		begin = l
	}
	lead := string(s.src[begin:at])
	return lead, strings.Trim(lead, " ") == ""
}

// number sets the value of a field to a number, unless it is that already.
func (s *splicer) number(f *field, to float64) {
	if was, err := strconv.ParseFloat(f.value.Value, 64); err != nil || was != to {
		s.replace(s.offset(f.value), f.end, decimal(to))
	}
}

func (s *splicer) ratio(f *field, to Ratio, text string) {
	inhale, exhale, _ := strings.Cut(f.value.Value, ":")
	a, errA := strconv.ParseFloat(inhale, 64)
	b, errB := strconv.ParseFloat(exhale, 64)
	if errA == nil && errB == nil && (Ratio{a, b}) == to {
		return
	}
	q := `"`
	if f.value.Style&yaml.SingleQuotedStyle != 0 {
		q = "'"
	}
	s.replace(s.offset(f.value), f.end, q+text+q)
}

// rename sets the key of a field, in the quotes that it has.
func (s *splicer) rename(f *field, key string) {
	q := ""
	if f.key.Style&(yaml.DoubleQuotedStyle|yaml.SingleQuotedStyle) != 0 {
		q = string(s.src[f.from])
	}
	s.replace(f.from, s.end(f.key), q+key+q)
}

// insert adds fields, as text, to a mapping, right after one of its fields. In
// braces that may be on lines of their own; not where commas are about to go
// (inline).
func (s *splicer) insert(m *yaml.Node, after *field, inline bool, texts ...string) {
	if len(texts) == 0 {
		return
	}
	indent, first := s.lead(after.from)
	if m.Style&yaml.FlowStyle == 0 {
		s.insertLines(s.skipNotes(m, after), indent, texts)
		return
	}
	rest := strings.TrimSpace(string(s.src[after.end:s.lineEnd(after.end)]))
	withComma := strings.HasPrefix(rest, ",")
	rest = strings.TrimSpace(strings.TrimPrefix(rest, ","))
	if alone := rest == "" || rest[0] == '#'; inline || !first || !alone {
		s.replace(after.end, after.end, ", "+strings.Join(texts, ", "))
		return
	}
	// The field has its line to itself, and so have those added.
	for i := range texts {
		if withComma || i < len(texts)-1 {
			texts[i] += ","
		}
	}
	if !withComma {
		s.replace(after.end, after.end, ",")
	}
	s.insertLines(after.end, indent, texts)
}

// insertLines adds lines after the line that holds at.
func (s *splicer) insertLines(at int, indent string, lines []string) {
	nl := s.lineBreak()
	next, ended := s.nextLine(at)
	text := indent + strings.Join(lines, nl+indent)
	if ended {
		text += nl
	} else {
		text = nl + text
	}
	s.replace(next, next, text)
}

// skipNotes returns the end of a field of a mapping in block style, together
// with the lines after it that are comments further in than the mapping: they
// are about what stands in the field.
func (s *splicer) skipNotes(m *yaml.Node, f *field) int {
	at := f.end
	for {
		next, more := s.nextLine(at)
		line := string(s.src[next:s.lineEnd(next)])
		note := strings.TrimLeft(line, " ")
		if !more || !strings.HasPrefix(note, "#") || len(line)-len(note) < m.Column {
			return at
		}
		at = next
	}
}

// remove takes a field out of a mapping, with the comma that goes with it.
// Comments in it and beside it stay.
func (s *splicer) remove(m *yaml.Node, f *field) {
	from, to := f.from, f.end
	if m.Style&yaml.FlowStyle != 0 {
		if i := s.scan(to, s.comma); i < len(s.src) && s.src[i] == ',' {
			to = i + 1
		} else if k := slices.Index(m.Content, f.key); k > 0 {
			from = s.scan(s.end(m.Content[k-1]), s.comma)
		}
	}
	for at := from; at < to; {
		end := min(to, s.lineEnd(at))
		note := s.scan(at, func(i int) bool { return i >= end || s.src[i] == '#' })
		s.cut(at, at+len(bytes.TrimRight(s.src[at:min(end, note)], " ")))
		next, _ := s.nextLine(at)
		at = next + len(s.src[next:]) - len(bytes.TrimLeft(s.src[next:], " "))
	}
}

// cut takes out part of a line, and the whole line where nothing else is in
// it.
func (s *splicer) cut(from, to int) {
	if from == to {
		return // a blank line, or a comment
	}
	lead, first := s.lead(from)
	rest := string(s.src[to:s.lineEnd(to)])
	after := strings.TrimLeft(rest, " ")
	switch {
	case first && after == "":
		next, _ := s.nextLine(to)
		s.replace(from-len(lead), next, "")
	case after == "":
		s.replace(from-len(lead)+len(strings.TrimRight(lead, " ")), to+len(rest), "")
	case !first && after[0] == '#':
		s.replace(from, to, "")
	default:
		s.replace(from, to+len(rest)-len(after), "")
	}
}
