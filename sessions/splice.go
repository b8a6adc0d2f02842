package sessions

import (
	"bytes"
	"errors"
	"fmt"
	"reflect"
	"regexp"
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

// ErrInPlace says that only a person can change the breath as the file writes it.
var ErrInPlace = errors.New("the breath cannot be changed in place")

// Splice returns the text of a session file with its rate, ratio, taper and
// lead-in set to t; file is its name for messages.
//
// Values are changed where they stand; missing fields are added beside their
// neighbours. Everything else stays byte for byte: comments, blank lines, layout, line
// ends. Where the file gives inhale and exhale, rate replaces inhale and ratio exhale.
//
// The result has been read again: it means t, and otherwise what the file meant. The
// error is an *Error where the file has problems; else it wraps ErrInPlace.
func Splice(file string, src []byte, t Tuning) ([]byte, error) {
	was, err := Parse(file, bytes.NewReader(src))
	if err != nil {
		return nil, err
	}
	s := &splicer{lineEnd: "\n"}
	if bytes.Contains(src, []byte("\r\n")) {
		s.lineEnd = "\r\n"
	}
	s.src = slices.Concat(src, []byte(s.lineEnd)) // the last line may have no end
	s.breath(was.Breath, t)
	s.leadIn(was.LeadIn, t.LeadIn)
	s.src = bytes.TrimSuffix(s.src, []byte(s.lineEnd))
	now, err := Parse(file, bytes.NewReader(s.src))
	if err != nil {
		return nil, fmt.Errorf("%w: %w", ErrInPlace, err)
	}
	want := *was
	b := &want.Breath
	b.Rate, b.Ratio, b.Inhale, b.Exhale, b.Taper = t.Rate, t.Ratio, 0, 0, t.Taper
	want.LeadIn = t.LeadIn
	want.places, now.places = nil, nil
	if !reflect.DeepEqual(&want, now) {
		return nil, fmt.Errorf("%s: %w", file, ErrInPlace)
	}
	return s.src, nil
}

// splicer makes one change after the other, and leaves out what it cannot change:
// Splice notices when it reads the result.
type splicer struct {
	src     []byte
	lineEnd string
}

func (s *splicer) breath(was Breath, t Tuning) {
	if was.Rate == 0 {
		s.rename("inhale", "rate")
		s.rename("exhale", "ratio")
	}
	if was.Rate != t.Rate {
		s.set(decimal(t.Rate), "breath", "rate")
	}
	ratio := strconv.Quote(t.Ratio.String())
	if key, _ := s.find("breath", "ratio"); key == nil {
		s.add("rate", "ratio: "+ratio)
	} else if was.Ratio != t.Ratio {
		s.set(ratio, "breath", "ratio")
	}
	switch {
	case was.Taper == nil && t.Taper != nil:
		s.add("ratio", taperText(t.Taper))
	case was.Taper != nil && t.Taper == nil:
		s.cut("taper", taperText(was.Taper))
	case was.Taper != nil && *was.Taper != *t.Taper:
		s.set(decimal(t.Taper.From), "breath", "taper", "from")
		s.set(strconv.Itoa(t.Taper.Breaths), "breath", "taper", "breaths")
	}
}

func (s *splicer) leadIn(was, breaths int) {
	_, top := s.find()
	key, _ := s.find("lead_in")
	breath, _ := s.find("breath")
	switch {
	case was == breaths || breath == nil:
	case key != nil:
		s.set(strconv.Itoa(breaths), "lead_in", "breaths")
	case top.Style&yaml.FlowStyle == 0 && breath.Style == 0:
		end := len(s.src)
		for i := len(top.Content) - 2; i >= 0 && top.Content[i].Line > breath.Line; i -= 2 {
			end = s.offset(top.Content[i]) - (top.Column - 1)
		}
		// Comments that are indented no more than the keys belong to what follows.
		notes := regexp.MustCompile(fmt.Sprintf(`(?m:^)(( {0,%d}#.*| *\r?)\n)*\z`, top.Column-1))
		at := notes.FindIndex(s.src[:end])[0]
		s.put(at, at, s.piece(top, "lead_in: {breaths: "+strconv.Itoa(breaths)+"}"))
	}
}

func decimal(f float64) string { return strconv.FormatFloat(f, 'f', -1, 64) }

// taperText is a taper as add has it.
func taperText(t *Taper) string {
	return "taper: {from: " + decimal(t.From) + ", breaths: " + strconv.Itoa(t.Breaths) + "}"
}

// find returns the key and the value of a field, nil where it is absent; without a
// path, the mapping of the whole file. Each change moves what comes after it, so the
// text is read again.
func (s *splicer) find(path ...string) (key, value *yaml.Node) {
	value = fields.Document(s.src, fields.SessionFile)
	for _, name := range path {
		if value == nil {
			return nil, nil
		}
		m := value
		key, value = nil, nil
		for i := 0; i+1 < len(m.Content); i += 2 {
			if m.Content[i].Value == name {
				key, value = m.Content[i], m.Content[i+1]
			}
		}
	}
	return key, value
}

// offset returns where a node begins, in bytes.
func (s *splicer) offset(n *yaml.Node) int {
	at := len(s.src) - len(bytes.TrimPrefix(s.src, []byte("\uFEFF")))
	for range n.Line - 1 {
		at = s.nextLine(at)
	}
	for range n.Column - 1 {
		_, size := utf8.DecodeRune(s.src[at:])
		at += size
	}
	return at
}

func (s *splicer) nextLine(at int) int { return at + bytes.IndexByte(s.src[at:], '\n') + 1 }

func (s *splicer) put(from, to int, text string) {
	s.src = slices.Concat(s.src[:from], []byte(text), s.src[to:])
}

// span returns where the text of a key or a single value begins and ends; false where
// the file writes it in another way, as with escapes.
func (s *splicer) span(n *yaml.Node) (from, to int, ok bool) {
	if n == nil || n.Kind != yaml.ScalarNode {
		return 0, 0, false
	}
	text := n.Value
	switch n.Style {
	case yaml.DoubleQuotedStyle:
		text = `"` + text + `"`
	case yaml.SingleQuotedStyle:
		text = "'" + text + "'"
	}
	from = s.offset(n)
	return from, from + len(text), bytes.HasPrefix(s.src[from:], []byte(text))
}

func (s *splicer) set(text string, path ...string) {
	_, value := s.find(path...)
	if from, to, ok := s.span(value); ok {
		s.put(from, to, text)
	}
}

// rename gives a field of the breath another key, unless its key is in quotes as in
// JSON.
func (s *splicer) rename(old, key string) {
	was, _ := s.find("breath", old)
	if from, to, ok := s.span(was); ok && was.Style == 0 {
		s.put(from, to, key)
	}
}

// piece is the text of a field to add to a mapping: after another one, or as a line.
func (s *splicer) piece(m *yaml.Node, text string) string {
	if m.Style&yaml.FlowStyle != 0 {
		return ", " + text
	}
	return strings.Repeat(" ", m.Column-1) + text + s.lineEnd
}

// add puts a field into the breath, right after another one, unless the key of that is
// in quotes.
func (s *splicer) add(after, text string) {
	_, m := s.find("breath")
	key, value := s.find("breath", after)
	if _, at, ok := s.span(value); ok && key.Style == 0 {
		if m.Style&yaml.FlowStyle == 0 {
			at = s.nextLine(at)
		}
		s.put(at, at, s.piece(m, text))
	}
}

// cut takes a field out of the breath, where it stands as add writes it.
func (s *splicer) cut(name, text string) {
	_, m := s.find("breath")
	if key, _ := s.find("breath", name); key != nil {
		added := s.piece(m, text)
		from := s.offset(key) - strings.Index(added, text)
		if bytes.HasPrefix(s.src[from:], []byte(added)) {
			s.put(from, from+len(added), "")
		}
	}
}
