package fields

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

// Mapping reads the fields of one YAML mapping. Each method that reads a field declares
// its key. A field that is absent or wrong leaves the target as it is; what is wrong is
// reported. Close reports the keys that nothing asked for: call it after the last
// field, on every mapping but the top one, which Read closes.
type Mapping struct {
	r      *reader
	path   string // "" at the top
	at     Place
	keys   []*yaml.Node // in the order of the file
	values map[string]*yaml.Node
	known  []string
}

// open returns the mapping in n, which stands at path.
func (r *reader) open(path string, at Place, n *yaml.Node) *Mapping {
	m := &Mapping{r: r, path: path, at: at, values: map[string]*yaml.Node{}}
	for i := 0; i+1 < len(n.Content); i += 2 {
		key := n.Content[i]
		if key.Kind != yaml.ScalarNode {
			r.doubt(path) // reported already
			continue
		}
		if _, twice := m.values[key.Value]; twice {
			r.report(placeOf(key), m.child(key.Value), "%s: this key stands here twice; keep one", Quote(key.Value))
			continue
		}
		m.keys = append(m.keys, key)
		m.values[key.Value] = n.Content[i+1]
	}
	return m
}

func (m *Mapping) child(key string) string {
	if m.path == "" {
		return key
	}
	return m.path + "." + key
}

// Has reports whether the file has the field, right or wrong.
func (m *Mapping) Has(key string) bool { return m.values[key] != nil }

// placeOf returns the place of a field: its value where that is a single value, else
// its key. For an absent field it is the place of the mapping.
func (m *Mapping) placeOf(key string) Place {
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

// Wrong reports a field: what is wrong with it, and the cure.
func (m *Mapping) Wrong(key, text string) {
	m.r.report(m.placeOf(key), m.child(key), "%s: %s", key, text)
}

// Refuse reports a field: what is wrong, and what is allowed.
func (m *Mapping) Refuse(key, wrong, allowed string) {
	if v := m.values[key]; v != nil && !strings.Contains(wrong, "did you mean") {
		wrong += typographic(v.Value)
	}
	m.Wrong(key, wrong+"; allowed: "+allowed)
}

// decimals are what is left of a number such as 7,5 in {rate: 7,5}.
var decimals = regexp.MustCompile(`^[0-9]`)

var (
	plainSigns   = strings.NewReplacer("‐", "-", "‑", "-", "‒", "-", "–", "-", "—", "-", "−", "-", "“", `"`, "”", `"`, "„", `"`, "‘", "'", "’", "'")
	decimalComma = regexp.MustCompile(`([0-9]),([0-9])`)
)

// typographic says what a value would be with the plain signs of the keyboard, or with a
// point for the decimals; "" where it has them.
func typographic(value string) string {
	switch plain := plainSigns.Replace(value); {
	case plain != value:
		return " (write it with the plain signs of the keyboard: " + strings.Trim(Quote(strings.Trim(plain, `"`)), `"`) + ")"
	case decimalComma.MatchString(value):
		return fmt.Sprintf(" (did you mean %s?)", Quote(decimalComma.ReplaceAllString(value, "$1.$2")))
	}
	return ""
}

// Need reports absent fields, each given as an example such as "reps: 10".
func (m *Mapping) Need(examples ...string) {
	for _, example := range examples {
		if key, _, _ := strings.Cut(example, ":"); !m.Has(key) {
			m.r.report(m.at, m.child(key), "%q is missing; add it, such as %q", key, example)
		}
	}
}

// Remark sets what is said of keys that are unknown where they stand, in the whole
// file: what may be meant by them.
func (m *Mapping) Remark(remarks map[string]string) { m.r.remarks = remarks }

// Close reports keys that no field has been read for.
func (m *Mapping) Close() {
	for _, k := range m.keys {
		if !slices.Contains(m.known, k.Value) {
			remark := DidYouMean(k.Value, m.known)
			if r := m.r.remarks[k.Value]; r != "" {
				remark = " (" + r + ")"
			} else if decimals.MatchString(k.Value) {
				remark = " (decimals are written with a point)"
			}
			m.r.report(placeOf(k), m.child(k.Value), "%s: unknown key%s; allowed here: %s", Quote(k.Value), remark, strings.Join(m.known, ", "))
		}
	}
}

// get declares a key and returns its value if that is of the given kind.
func (m *Mapping) get(key string, kind yaml.Kind, allowed string) *yaml.Node {
	m.known = append(m.known, key)
	v := m.values[key]
	switch {
	case v == nil:
		return nil
	case m.r.unreadable[v]:
		m.r.doubt(m.child(key))
		return nil
	case isNull(v):
		m.Refuse(key, "no value", allowed)
		return nil
	case v.Kind != kind:
		m.Refuse(key, describe(v)+" is not "+kindNames[kind]+toList(v, kind), allowed)
		return nil
	}
	m.r.places[m.child(key)] = m.placeOf(key)
	return v
}

// toList says how a mapping that should be a list becomes one.
func toList(n *yaml.Node, kind yaml.Kind) string {
	switch {
	case n.Kind != yaml.MappingNode || kind != yaml.SequenceNode:
		return ""
	case n.Style&yaml.FlowStyle != 0:
		return "; put [ and ] around it"
	}
	return `; begin each entry with "- "`
}

var kindNames = map[yaml.Kind]string{
	yaml.ScalarNode: "a single value", yaml.SequenceNode: "a list", yaml.MappingNode: "a mapping",
}

// describe quotes a single value and names the kind of any other.
func describe(n *yaml.Node) string {
	if n.Kind == yaml.ScalarNode {
		return Quote(n.Value)
	}
	return kindNames[n.Kind]
}

// Mapping reads a field with fields of its own, such as "{rate: 8}"; nil where there is
// none.
func (m *Mapping) Mapping(key, example string) *Mapping {
	v := m.get(key, yaml.MappingNode, "a mapping such as "+example)
	if v == nil {
		return nil
	}
	return m.r.open(m.child(key), m.placeOf(key), v)
}

// List reads a list of least to most mappings; example is a field of one, such as
// "reps: 10".
func (m *Mapping) List(key, example string, least, most int) []*Mapping {
	allowed := fmt.Sprintf("a list of %d to %d entries", least, most)
	v := m.get(key, yaml.SequenceNode, allowed)
	if v == nil {
		return nil
	}
	if n := len(v.Content); n < least || n > most {
		m.Refuse(key, fmt.Sprintf("%d entries", n), allowed)
	}
	var entries []*Mapping
	for i, n := range v.Content {
		path := fmt.Sprintf("%s[%d]", m.child(key), i)
		switch {
		case m.r.unreadable[n]:
			m.r.doubt(path)
		case n.Kind != yaml.MappingNode:
			m.r.report(placeOf(n), path, "%s: %s is not a mapping; allowed: keys with values, such as %q", key, describe(n), example)
		default:
			m.r.places[path] = placeOf(n)
			entries = append(entries, m.r.open(path, placeOf(n), n))
		}
	}
	return entries
}

// Words reads a list of single values, such as "[tones, ticks]"; allowed says what they
// may be. It returns false where there is no such list.
func (m *Mapping) Words(key, example, allowed string) ([]string, bool) {
	v := m.get(key, yaml.SequenceNode, "a list such as "+example)
	if v == nil {
		return nil, false
	}
	var words []string
	for _, n := range v.Content {
		switch {
		case m.r.unreadable[n]:
			m.r.doubt(m.child(key))
			return nil, false
		case n.Kind != yaml.ScalarNode:
			m.r.report(placeOf(n), m.child(key), "%s: %s is not a word; allowed: %s", key, describe(n), allowed)
			return nil, false
		}
		words = append(words, n.Value)
	}
	return words, true
}

// Scalar reads a single value as it is written; false where there is none.
func (m *Mapping) Scalar(key, allowed string) (string, bool) {
	v := m.get(key, yaml.ScalarNode, allowed)
	if v == nil {
		return "", false
	}
	return v.Value, true
}

// Text reads text for people, least to most characters long. White space, line breaks
// included, becomes one space.
func (m *Mapping) Text(key string, least, most int, to *string) {
	allowed := fmt.Sprintf("text of %d to %d characters", least, most)
	v := m.get(key, yaml.ScalarNode, allowed)
	if v == nil {
		return
	}
	if v.ShortTag() != "!!str" {
		m.Refuse(key, Quote(v.Value)+" is not text to YAML; put it in quotes", allowed)
		return
	}
	s := strings.Join(strings.Fields(v.Value), " ")
	if n := utf8.RuneCountInString(s); n < least || n > most {
		m.Wrong(key, fmt.Sprintf("%s has %d characters; allowed: %s", Quote(s), n, allowed))
		return
	}
	*to = s
}

// Word reads one of several words; "" where it is absent or wrong.
func (m *Mapping) Word(key string, options ...string) string {
	allowed := strings.Join(options, ", ")
	v, ok := m.Scalar(key, allowed)
	if !ok || slices.Contains(options, v) {
		return v
	}
	m.Refuse(key, Quote(v)+" is not known"+DidYouMean(v, options), allowed)
	return ""
}

// Numbers are plain decimals: nothing octal or hexadecimal, no exponents.
var (
	wholeForm    = regexp.MustCompile(`^-?(0|[1-9][0-9]*)$`)
	numberForm   = regexp.MustCompile(`^-?(0|[1-9][0-9]*)(\.[0-9]+)?$`)
	durationForm = regexp.MustCompile(`^([0-9]+(\.[0-9]+)?h)?([0-9]+(\.[0-9]+)?m)?([0-9]+(\.[0-9]+)?s)?([0-9]+(\.[0-9]+)?ms)?$`)
)

// ParseNumber reads a plain decimal; false for anything else.
func ParseNumber(s string) (float64, bool) {
	if !numberForm.MatchString(s) {
		return 0, false
	}
	f, _ := strconv.ParseFloat(s, 64) // too large a number is +Inf
	return f, true
}

// Whole reads a whole number from least to most.
func (m *Mapping) Whole(key string, least, most int, to *int) {
	allowed := fmt.Sprintf("a whole number from %d to %d", least, most)
	if least == most {
		allowed = strconv.Itoa(least)
	}
	if f, ok := m.decimal(key, wholeForm, allowed, float64(least), float64(most)); ok {
		*to = int(f)
	}
}

// Number reads a number from least to most; unit is the plural of what it counts.
func (m *Mapping) Number(key string, least, most float64, unit string, to *float64) {
	if f, ok := m.decimal(key, numberForm, fmt.Sprintf("%g to %g %s", least, most, unit), least, most); ok {
		*to = f
	}
}

func (m *Mapping) decimal(key string, form *regexp.Regexp, allowed string, least, most float64) (float64, bool) {
	v := m.get(key, yaml.ScalarNode, allowed)
	if v == nil {
		return 0, false
	}
	f, _ := strconv.ParseFloat(v.Value, 64) // too large a number is +Inf
	switch {
	case !numberForm.MatchString(v.Value):
		m.Refuse(key, Quote(v.Value)+" is not a plain number", allowed)
	case !form.MatchString(v.Value):
		m.Refuse(key, Quote(v.Value)+" is not a plain whole number", allowed)
	case v.Style != 0:
		m.Refuse(key, Quote(v.Value)+" is text; write the number without quotes", allowed)
	case f < least || f > most:
		m.Refuse(key, Quote(v.Value)+" is out of range", allowed)
	default:
		return f, true
	}
	return 0, false
}

// Percent reads a share up to most percent: 20% is 0.2.
func (m *Mapping) Percent(key string, most float64, to *float64) {
	allowed := fmt.Sprintf("0%% to %g%%, with the sign", most)
	v, ok := m.Scalar(key, allowed)
	if !ok {
		return
	}
	digits, signed := strings.CutSuffix(v, "%")
	f, plain := ParseNumber(digits)
	switch {
	case !signed || !plain:
		m.Refuse(key, Quote(v)+" is not a share in percent", allowed)
	case f < 0 || f > most:
		m.Refuse(key, Quote(v)+" is out of range", allowed)
	default:
		*to = f / 100
	}
}

// Duration reads a length of time with its unit, from least to most. Messages call a most
// that is one nanosecond short of a whole second "under" that second.
func (m *Mapping) Duration(key string, least, most time.Duration, to *time.Duration) {
	zeros := strings.NewReplacer("h0m0s", "h", "m0s", "m")
	short := func(d time.Duration) string { return zeros.Replace(d.String()) }
	allowed := short(least) + " to " + short(most)
	if end := most + 1; end%time.Second == 0 {
		allowed = short(least) + " or more, under " + short(end)
	}
	v, ok := m.Scalar(key, allowed)
	if !ok {
		return
	}
	d, err := time.ParseDuration(v)
	switch {
	case numberForm.MatchString(v):
		meant, unit := "seconds", "s"
		if s, err := time.ParseDuration(v + "s"); most < time.Second && (err != nil || s > most) {
			meant, unit = "milliseconds", "ms"
		}
		m.Refuse(key, fmt.Sprintf("%s has no unit; if %s are meant, write %s", Quote(v), meant, Quote(v+unit)), allowed)
	case v == "" || !durationForm.MatchString(v):
		m.Refuse(key, Quote(v)+` is not a length of time such as "800ms", "30s" or "1m30s"`, allowed)
	case err != nil || d < least || d > most:
		m.Refuse(key, Quote(v)+" is out of range", allowed)
	default:
		*to = d
	}
}
