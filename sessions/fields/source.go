package fields

import (
	"bytes"
	"errors"
	"fmt"
	"io"
	"regexp"
	"strconv"
	"strings"
	"unicode/utf8"

	"gopkg.in/yaml.v3"

	"glidepace/sessions/plaintext"
)

// MaxSize is the largest size of a file, in bytes.
const MaxSize = 64 << 10

// cleanText checks the bytes of a file and returns text for the YAML parser: without a
// byte order mark, with lines that end in \n, and with a replacement character for each
// that was refused, so that the rest can still be checked and every place stays. It
// returns false where there is nothing to check.
func (r *reader) cleanText(src []byte) (string, bool) {
	if len(src) > MaxSize {
		r.report(Place{1, 1}, "", "the file is larger than 64 KiB; a %s is a few lines of text", r.kind.Name)
		return "", false
	}
	src = bytes.TrimPrefix(src, []byte("\uFEFF"))
	src = bytes.ReplaceAll(src, []byte("\r\n"), []byte("\n"))
	var text strings.Builder
	at := Place{1, 1}
	invalid, lastRefused := false, 0
	for len(src) > 0 {
		c, size := utf8.DecodeRune(src)
		switch {
		case c == 0:
			r.report(at, "", "a zero byte: this is not plain text; save the file as plain text in UTF-8")
			return "", false
		case c == utf8.RuneError && size == 1:
			if !invalid {
				r.report(at, "", "the byte %#x is not UTF-8; save the file as plain text in UTF-8", src[0])
			}
			invalid = true
		case refused(c):
			if at.Line != lastRefused { // such a character seldom comes alone
				r.report(at, "", "the character %U, which cannot be seen, is not allowed; delete it", c)
			}
			c, lastRefused = utf8.RuneError, at.Line
		}
		text.WriteRune(c)
		src = src[size:]
		at.Column++
		if c == '\n' {
			at = Place{at.Line + 1, 1}
		}
	}
	return text.String(), true
}

// refused reports whether c may not stand in a file: what a reader cannot see, or what
// changes the order of what is seen. Tab and line break stay.
func refused(c rune) bool {
	return c != '\t' && c != '\n' && plaintext.Hidden(c)
}

// document reads text as one YAML document and checks what does not depend on the
// meaning of keys. It returns nil where it cannot read a document.
func (r *reader) document(text string) *yaml.Node {
	docs, err := decode(text)
	if err != nil {
		r.syntax(text, err)
		return nil
	}
	if len(docs) == 0 || isNull(docs[0].Content[0]) {
		r.report(Place{1, 1}, "", "the file is empty; a %s begins with %q", r.kind.Name, r.kind.first())
		return nil
	}
	if len(docs) > 1 {
		r.report(placeOf(docs[1]), "", "a second document begins here; a %s holds one", r.kind.Name)
	}
	root := docs[0].Content[0]
	for line := range strings.SplitSeq(text, "\n") {
		r.lines = append(r.lines, []rune(line))
	}
	r.checkNode(root)
	return root
}

// checkNode reports what may stand nowhere: values that are written in one place and
// meant in another, types that the text does not show, and characters hidden in escapes.
func (r *reader) checkNode(n *yaml.Node) {
	at := placeOf(n)
	if n.Kind == yaml.AliasNode {
		r.report(at, "", "an alias (%s) is not allowed; write the value out", Quote("*"+n.Value))
		r.unreadable[n] = true
	}
	if n.Anchor != "" {
		r.report(at, "", "an anchor (%s) is not allowed; put text that begins with & in quotes", Quote("&"+n.Anchor))
	}
	// The tag "!" leaves a trace only in the text, where a node begins with its tag.
	if tag := n.Style&yaml.TaggedStyle != 0; tag || r.char(at) == '!' {
		name := "!"
		if tag {
			name = n.Tag
		}
		r.report(at, "", "a tag (%s) is not allowed; put text that begins with ! in quotes", Quote(name))
		r.unreadable[n] = true
	}
	if i := strings.IndexFunc(n.Value, refused); i >= 0 {
		c, _ := utf8.DecodeRuneInString(n.Value[i:])
		r.report(at, "", "the character %U, which cannot be seen, is not allowed, not even escaped; delete it", c)
	}
	for i, c := range n.Content {
		if n.Kind == yaml.MappingNode && i%2 == 0 && len(c.Content) > 0 {
			r.report(placeOf(c), "", "a key must be a word, not a list or a mapping")
		}
		r.checkNode(c)
	}
}

// char returns the character at a place, 0 where there is none.
func (r *reader) char(at Place) rune {
	if at.Line > len(r.lines) || at.Column > len(r.lines[at.Line-1]) {
		return 0
	}
	return r.lines[at.Line-1][at.Column-1]
}

func placeOf(n *yaml.Node) Place { return Place{n.Line, n.Column} }

func isNull(n *yaml.Node) bool { return n.Kind == yaml.ScalarNode && n.ShortTag() == "!!null" }

// decode returns the YAML documents in text, at most two.
func decode(text string) (docs []*yaml.Node, err error) {
	// The parser has panicked on malformed text before.
	defer func() {
		if p := recover(); p != nil {
			err = fmt.Errorf("yaml: %v", p)
		}
	}()
	d := yaml.NewDecoder(strings.NewReader(text))
	for len(docs) < 2 {
		var doc yaml.Node
		if err := d.Decode(&doc); errors.Is(err, io.EOF) {
			return docs, nil
		} else if err != nil {
			return nil, err
		}
		docs = append(docs, &doc)
	}
	return docs, nil
}

var yamlMessage = regexp.MustCompile(`(?s)^yaml: (?:line (\d+): )?(.*)$`)

// syntax reports text that is not YAML, in plain words.
func (r *reader) syntax(text string, err error) {
	at, message := Place{1, 1}, err.Error()
	if m := yamlMessage.FindStringSubmatch(message); m != nil {
		at.Line, _ = strconv.Atoi(m[1])
		message = m[2]
	}
	lines := strings.Split(strings.TrimSuffix(text, "\n"), "\n")
	if n, ok := brokenLine(lines); ok {
		at.Line = n
	}
	at.Line = min(max(1, at.Line), len(lines))
	for n := at.Line; n > 0 && n >= at.Line-1; n-- { // a slip often breaks only the line after it
		if column, plain := slip(lines[n-1]); plain != "" {
			r.report(Place{n, column}, "", "%s: %s", plain, Quote(strings.TrimSpace(lines[n-1])))
			return
		}
	}
	plain := "this is not YAML (" + message + ")"
	for _, s := range syntaxErrors {
		if strings.Contains(message, s.yaml) {
			plain = s.plain
			break
		}
	}
	r.report(at, "", "%s: %s", plain, Quote(strings.TrimSpace(lines[at.Line-1])))
}

// slips are what is easily typed at the beginning of a line instead of YAML.
var slips = []struct {
	form  *regexp.Regexp
	plain string // what is wrong, of what the form has in its second group
}{
	{regexp.MustCompile(`^(\s*)([‐-―−•·])`), noDash},
	{regexp.MustCompile(`^(\s*)(\*)\s`), noDash},
	{regexp.MustCompile(`^(\s*)(-)[a-z]`), `a space is missing after %q`},
	{regexp.MustCompile(`^(\s*(?:- )?[a-z_]+)(:)[^\s:]`), `a space is missing after %q`},
}

const noDash = `%q is no plain "-"; an entry of a list begins with the "-" of the keyboard and a space`

// slip returns the column of a slip in a line and what is wrong; "" where there is none.
func slip(line string) (column int, plain string) {
	for _, s := range slips {
		if m := s.form.FindStringSubmatch(line); m != nil {
			return utf8.RuneCountInString(m[1]) + 1, fmt.Sprintf(s.plain, m[2])
		}
	}
	return 0, ""
}

// brokenLine returns the line in which text stops being YAML: the one after the longest
// beginning that can be read. The parser itself names the line where the mapping or
// list around the mistake begins, or none. It returns false where this would take long.
func brokenLine(lines []string) (int, bool) {
	const budget = 1 << 20 // bytes parsed: enough for 200 lines of 50
	spent := 0
	for n := len(lines) - 1; n > 0; n-- {
		begin := strings.Join(lines[:n], "\n")
		if spent += len(begin); spent > budget {
			return 0, false
		}
		if _, err := decode(begin); err == nil {
			return n + 1, true
		}
	}
	return 1, true
}

// syntaxErrors puts what the parser says into plain words, with the cure.
var syntaxErrors = []struct{ yaml, plain string }{
	{"mapping values are not allowed", `a ":" is in the wrong place; put text with ": " in quotes, or indent the key like those around it`},
	{"cannot start any token", "a value begins with a tab, @, % or `; indent with spaces, and put such text in quotes"},
	{"tab character", "a tab; indent with spaces"},
	{"could not find expected ':'", `a key without ": " after it`},
	{"did not find expected key", "this line does not fit the ones before it; check how far it is indented, and put text that holds quotes in quotes"},
	{"expected '-' indicator", `an entry of a list must begin with "- "; check how far the line is indented`},
	{"expected ',' or ']'", `a "," or the closing "]" of a list is missing`},
	{"expected ',' or '}'", `a "," or the closing "}" of a mapping is missing`},
	{"end of stream", "a quote is opened here and never closed"},
	{"document indicator", "a quote is opened here and never closed"},
	{"escape", `a "\" in double quotes begins no known escape; write "\\", or use single quotes`},
	{"hexdecimal", `a "\" in double quotes begins no known escape; write "\\", or use single quotes`},
	{"unknown anchor", "an alias (*) is not allowed; write the value out, and put text that begins with * in quotes"},
	{"alphabetic or numeric character", "a value begins with & or *; put such text in quotes"},
	{"node content", "a value is missing, or a bracket or comma is in the wrong place"},
	{"max depth", "lists or mappings are nested too deep"},
	{"directive", "a line that begins with % is not allowed"},
	{"incompatible YAML", "a line that begins with % is not allowed"},
}
