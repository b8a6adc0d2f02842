package sessions

import (
	"fmt"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"time"
	"unicode/utf8"

	"gopkg.in/yaml.v3"
)

// reader collects what is found while one file is read.
type reader struct {
	lines      [][]rune // the text as the YAML parser had it
	problems   []Problem
	places     map[string]Place    // of the fields that are in the file, by path
	unreadable map[*yaml.Node]bool // reported already
	unsure     bool                // a field that timing depends on could not be read
}

var (
	timingFields = regexp.MustCompile(`^(breath|lead_in|set_up|exercises)\b`)
	wordFields   = regexp.MustCompile(`^exercises\[\d+\]\.(own|note)\b`)
)

// report adds a problem with the field at path, "" where it is with none.
func (r *reader) report(at Place, path, format string, args ...any) {
	r.problems = append(r.problems, Problem{at, fmt.Sprintf(format, args...)})
	r.doubt(path)
}

func (r *reader) doubt(path string) {
	r.unsure = r.unsure || timingFields.MatchString(path) && !wordFields.MatchString(path)
}

// mapping reads the fields of one YAML mapping. Each method that reads a field
// declares its key. A field that is absent leaves the target as it is, as does
// one that is wrong, which is reported. After the last one, close reports the
// keys that nothing asked for.
type mapping struct {
	r      *reader
	path   string // "" at the top
	at     Place
	keys   []*yaml.Node // in the order of the file
	values map[string]*yaml.Node
	known  []string
}

// open returns the mapping in n, which stands at path.
func (r *reader) open(path string, at Place, n *yaml.Node) *mapping {
	m := &mapping{r: r, path: path, at: at, values: map[string]*yaml.Node{}}
	for i := 0; i+1 < len(n.Content); i += 2 {
		key := n.Content[i]
		if key.Kind != yaml.ScalarNode {
			r.doubt(path) // reported already
			continue
		}
		if _, twice := m.values[key.Value]; twice {
			r.report(placeOf(key), m.child(key.Value), "%s: this key stands here twice; keep one", quote(key.Value))
			continue
		}
		m.keys = append(m.keys, key)
		m.values[key.Value] = n.Content[i+1]
	}
	return m
}

func (m *mapping) child(key string) string {
	if m.path == "" {
		return key
	}
	return m.path + "." + key
}

func (m *mapping) has(key string) bool { return m.values[key] != nil }

// placeOf returns the place of a field: its value where that is a word, else
// its key. Of a field that is absent it is the place of the mapping.
func (m *mapping) placeOf(key string) Place {
	v := m.values[key]
	if v == nil {
		return m.at
	}
	if v.Kind == yaml.ScalarNode && !isNull(v) {
		return placeOf(v)
	}
	i := slices.IndexFunc(m.keys, func(k *yaml.Node) bool { return k.Value == key })
	return placeOf(m.keys[i])
}

// refuse reports a field: what is wrong, and what is allowed.
func (m *mapping) refuse(key, wrong, allowed string) {
	m.r.report(m.placeOf(key), m.child(key), "%s: %s; allowed: %s", key, wrong, allowed)
}

// need reports fields that are absent, each given as an example, such as
// "reps: 10".
func (m *mapping) need(examples ...string) {
	for _, example := range examples {
		if key, _, _ := strings.Cut(example, ":"); !m.has(key) {
			m.r.report(m.at, m.child(key), "%q is missing; add it, such as %q", key, example)
		}
	}
}

// close reports keys that no field has been read for.
func (m *mapping) close() {
	for _, k := range m.keys {
		if !slices.Contains(m.known, k.Value) {
			m.r.report(placeOf(k), m.child(k.Value), "%s: unknown key%s; allowed here: %s",
				quote(k.Value), didYouMean(k.Value, m.known), strings.Join(m.known, ", "))
		}
	}
}

// get declares a key and returns its value if that is of the given kind.
func (m *mapping) get(key string, kind yaml.Kind, allowed string) *yaml.Node {
	m.known = append(m.known, key)
	v := m.values[key]
	switch {
	case v == nil:
		return nil
	case m.r.unreadable[v]:
		m.r.doubt(m.child(key))
		return nil
	case isNull(v):
		m.refuse(key, "no value", allowed)
		return nil
	case v.Kind != kind:
		m.refuse(key, describe(v)+" is not "+kindWords[kind], allowed)
		return nil
	}
	m.r.places[m.child(key)] = m.placeOf(key)
	return v
}

var kindWords = map[yaml.Kind]string{
	yaml.ScalarNode: "a single value", yaml.SequenceNode: "a list", yaml.MappingNode: "a mapping",
}

// describe quotes a single value and names the kind of any other.
func describe(n *yaml.Node) string {
	if n.Kind == yaml.ScalarNode {
		return quote(n.Value)
	}
	return kindWords[n.Kind]
}

// mapping reads a field that has fields of its own; nil where there is none.
func (m *mapping) mapping(key, example string) *mapping {
	v := m.get(key, yaml.MappingNode, "a mapping such as "+example)
	if v == nil {
		return nil
	}
	return m.r.open(m.child(key), m.placeOf(key), v)
}

// list reads a list of mappings.
func (m *mapping) list(key string, least, most int) []*mapping {
	allowed := fmt.Sprintf("a list of %d to %d entries", least, most)
	v := m.get(key, yaml.SequenceNode, allowed)
	if v == nil {
		return nil
	}
	if n := len(v.Content); n < least || n > most {
		m.refuse(key, fmt.Sprintf("%d entries", n), allowed)
	}
	var entries []*mapping
	for i, n := range v.Content {
		path := fmt.Sprintf("%s[%d]", m.child(key), i)
		switch {
		case m.r.unreadable[n]:
			m.r.doubt(path)
		case n.Kind != yaml.MappingNode:
			m.r.report(placeOf(n), path, `%s: %s is not a mapping; allowed: keys with values, such as "reps: 10"`, key, describe(n))
		default:
			m.r.places[path] = placeOf(n)
			entries = append(entries, m.r.open(path, placeOf(n), n))
		}
	}
	return entries
}

// scalar reads a single value as it is written, quoted or not.
func (m *mapping) scalar(key, allowed string) (string, bool) {
	v := m.get(key, yaml.ScalarNode, allowed)
	if v == nil {
		return "", false
	}
	return v.Value, true
}

// text reads words for people, least to most characters long. White space,
// line breaks included, is read as one blank, however the file is laid out.
func (m *mapping) text(key string, least, most int, to *string) {
	allowed := fmt.Sprintf("text of %d to %d characters", least, most)
	v := m.get(key, yaml.ScalarNode, allowed)
	if v == nil {
		return
	}
	if v.ShortTag() != "!!str" {
		m.refuse(key, quote(v.Value)+" is not text to YAML; put it in quotes", allowed)
		return
	}
	s := strings.Join(strings.Fields(v.Value), " ")
	if n := utf8.RuneCountInString(s); n < least || n > most {
		m.refuse(key, fmt.Sprintf("%s has %d characters", quote(s), n), allowed)
		return
	}
	*to = s
}

// word reads one word out of several; "" where it is absent or wrong.
func (m *mapping) word(key string, options ...string) string {
	allowed := strings.Join(options, ", ")
	v, ok := m.scalar(key, allowed)
	if !ok || slices.Contains(options, v) {
		return v
	}
	m.refuse(key, quote(v)+" is not known"+didYouMean(v, options), allowed)
	return ""
}

// Numbers are plain decimals: no octal, hexadecimal, exponent, infinity.
var (
	wholeForm    = regexp.MustCompile(`^-?(0|[1-9][0-9]*)$`)
	numberForm   = regexp.MustCompile(`^-?(0|[1-9][0-9]*)(\.[0-9]+)?$`)
	durationForm = regexp.MustCompile(`^([0-9]+(\.[0-9]+)?m)?([0-9]+(\.[0-9]+)?s)?([0-9]+(\.[0-9]+)?ms)?$`)
)

// whole reads a whole number from least to most.
func (m *mapping) whole(key string, least, most int, to *int) {
	allowed := fmt.Sprintf("a whole number from %d to %d", least, most)
	if least == most {
		allowed = strconv.Itoa(least)
	}
	if f, ok := m.decimal(key, wholeForm, allowed, float64(least), float64(most)); ok {
		*to = int(f)
	}
}

// number reads a number from least to most; unit is the plural of what it
// counts.
func (m *mapping) number(key string, least, most float64, unit string, to *float64) {
	if f, ok := m.decimal(key, numberForm, fmt.Sprintf("%g to %g %s", least, most, unit), least, most); ok {
		*to = f
	}
}

func (m *mapping) decimal(key string, form *regexp.Regexp, allowed string, least, most float64) (float64, bool) {
	v := m.get(key, yaml.ScalarNode, allowed)
	if v == nil {
		return 0, false
	}
	f, _ := strconv.ParseFloat(v.Value, 64) // too large a number is +Inf
	switch {
	case !form.MatchString(v.Value):
		m.refuse(key, quote(v.Value)+" is not such a plain number", allowed)
	case v.Style != 0:
		m.refuse(key, quote(v.Value)+" is text; write the number without quotes", allowed)
	case f < least || f > most:
		m.refuse(key, quote(v.Value)+" is out of range", allowed)
	default:
		return f, true
	}
	return 0, false
}

// duration reads a length of time with its unit, from least to most.
func (m *mapping) duration(key string, least, most time.Duration, to *time.Duration) {
	short := func(d time.Duration) string { return strings.Replace(d.String(), "m0s", "m", 1) }
	allowed := short(least) + " to " + short(most)
	if most == maxPause {
		allowed = short(least) + " or more, under 1s"
	}
	v, ok := m.scalar(key, allowed)
	if !ok {
		return
	}
	d, err := time.ParseDuration(v)
	switch {
	case numberForm.MatchString(v):
		m.refuse(key, fmt.Sprintf("%s has no unit; if seconds are meant, write %s", quote(v), quote(v+"s")), allowed)
	case v == "" || !durationForm.MatchString(v):
		m.refuse(key, quote(v)+` is not a length of time such as "800ms", "30s" or "1m30s"`, allowed)
	case err != nil || d < least || d > most:
		m.refuse(key, quote(v)+" is out of range", allowed)
	default:
		*to = d
	}
}
