package fields_test

import (
	"errors"
	"fmt"
	"reflect"
	"strings"
	"testing"
	"testing/iotest"
	"time"

	"glidepace/sessions/fields"
)

const start = "glidepace: 1\n"

// read reads a session file that has the fields which fill asks for.
func read(src string, fill func(top *fields.Mapping)) (fields.Found, error) {
	return fields.Read("x", strings.NewReader(start+src), fields.SessionFile, func(top *fields.Mapping) {
		var version int
		top.Whole("glidepace", 1, 1, &version)
		fill(top)
	})
}

func TestValues(t *testing.T) {
	got := struct {
		text, word, scalar string
		words              []string
		whole              int
		number, share      float64
		length             time.Duration
		entries            []int
		absent             time.Duration
	}{absent: time.Minute}
	found, err := read(`
text: two   words
word: b
scalar: 007
words: [a, 1, "b c"]
whole: -3
number: 2.50
share: 12.5%
length: 1h1m30s
inner: {entries: [{n: 1}, {n: 2}]}
`, func(top *fields.Mapping) {
		top.Need("text: words")
		top.Text("text", 1, 10, &got.text)
		got.word = top.Word("word", "a", "b")
		got.scalar, _ = top.Scalar("scalar", "anything")
		got.words, _ = top.Words("words", "[a]", "anything")
		top.Whole("whole", -5, 5, &got.whole)
		top.Number("number", 0, 3, "breaths", &got.number)
		top.Percent("share", 20, &got.share)
		top.Duration("length", 0, 2*time.Hour, &got.length)
		top.Duration("absent", 0, time.Hour, &got.absent)
		inner := top.Mapping("inner", "{entries: []}")
		for _, m := range inner.List("entries", "n: 1", 1, 3) {
			var n int
			m.Whole("n", 1, 9, &n)
			m.Close()
			got.entries = append(got.entries, n)
		}
		inner.Close()
	})
	if err != nil || found.Wrong != nil {
		t.Fatal(err, found.Wrong)
	}
	want := got
	want.text, want.word, want.scalar, want.words = "two words", "b", "007", []string{"a", "1", "b c"}
	want.whole, want.number, want.share, want.length = -3, 2.5, 0.125, time.Hour+90*time.Second
	want.entries, want.absent = []int{1, 2}, time.Minute
	if !reflect.DeepEqual(got, want) {
		t.Errorf("got %+v, want %+v", got, want)
	}
	for path, at := range map[string]fields.Place{
		"length": {Line: 10, Column: 9}, "inner.entries[1].n": {Line: 11, Column: 31}, "inner.none": {Line: 11, Column: 1},
		"none": {Line: 1, Column: 1}, "": {Line: 1, Column: 1},
	} {
		if got := found.Places.At(path); got != at {
			t.Errorf("%q is at %v, want %v", path, got, at)
		}
	}
	if at := fields.Places(nil).At("length"); at != (fields.Place{Line: 1, Column: 1}) {
		t.Errorf("in no file: %v", at)
	}
}

// Fields that are wrong leave their targets alone and are told by their paths.
func TestWrong(t *testing.T) {
	n, length := 1, time.Second
	found, err := read("n: x\nwords: [a, [b]]\ninner: {m: 9, o: 1}\nlength: 1s\nlist: [!x 1, 2, {k: 1}]\nown: 1\nlead: 30\ngap: 13h\n", func(top *fields.Mapping) {
		top.Whole("n", 1, 9, &n)
		if w, ok := top.Words("words", "[a]", "a, b"); ok {
			t.Errorf("words %q", w)
		}
		inner := top.Mapping("inner", "{m: 1}")
		inner.Whole("m", 1, 5, &n)
		inner.Close()
		top.Duration("length", 0, time.Second-1, &length)
		if m := top.List("list", "k: 1", 1, 3); len(m) != 1 {
			t.Errorf("%d entries", len(m))
		}
		top.Scalar("own", "x")
		top.Wrong("own", "it is 100% wrong")
		top.Duration("lead", 0, 100*time.Millisecond, &length)
		top.Duration("gap", 0, 12*time.Hour, &length)
	})
	if n != 1 || length != time.Second {
		t.Errorf("a target was changed: %d, %v", n, length)
	}
	const want = `x:2:4: n: "x" is not a plain number; allowed: a whole number from 1 to 9
x:3:12: words: a list is not a word; allowed: a, b
x:4:12: m: "9" is out of range; allowed: a whole number from 1 to 5
x:4:15: "o": unknown key; allowed here: m
x:5:9: length: "1s" is out of range; allowed: 0s or more, under 1s
x:6:8: a tag ("!x") is not allowed; put text that begins with ! in quotes
x:6:14: list: "2" is not a mapping; allowed: keys with values, such as "k: 1"
x:7:6: own: it is 100% wrong
x:8:7: lead: "30" has no unit; if milliseconds are meant, write "30ms"; allowed: 0s to 100ms
x:9:6: gap: "13h" is out of range; allowed: 0s to 12h`
	if err == nil || err.Error() != want {
		t.Errorf("got:\n%v\nwant:\n%s", err, want)
	}
	if want := []string{"n", "words", "inner.m", "inner.o", "length", "list[0]", "list[1]", "own", "lead", "gap"}; !reflect.DeepEqual(found.Wrong, want) {
		t.Errorf("wrong are %q, want %q", found.Wrong, want)
	}
}

// A file of another kind is told in one line, not by all that it lacks.
func TestAnotherKind(t *testing.T) {
	for _, c := range []struct {
		kind      fields.Kind
		src, want string
	}{
		{fields.SessionFile, "# A box.\nglidepace-box: 1\nname: Box 3\n",
			`x:2:16: this is a box file; give a session file, which begins with "glidepace: 1"`},
		{fields.BoxFile, "title: x\nglidepace: 1\n",
			`x:2:12: this is a session file; give a box file, which begins with "glidepace-box: 1"`},
		{fields.BoxFile, "", `x:1:1: the file is empty; a box file begins with "glidepace-box: 1"`},
		{fields.BoxFile, "- 1", `x:1:1: a box file is a mapping: keys with values, beginning with "glidepace-box: 1"`},
	} {
		_, err := fields.Read("x", strings.NewReader(c.src), c.kind, func(*fields.Mapping) { t.Errorf("%q: its fields are asked for", c.src) })
		if err == nil || err.Error() != c.want {
			t.Errorf("got %v, want %s", err, c.want)
		}
	}
	_, err := fields.Read("x", strings.NewReader("glidepace: 1\nglidepace-box: 1"), fields.SessionFile, func(top *fields.Mapping) {
		top.Scalar("glidepace", "1")
	})
	if err == nil || err.Error() != `x:2:1: "glidepace-box": unknown key; allowed here: glidepace` {
		t.Errorf("both keys: %v", err)
	}
}

func TestSize(t *testing.T) {
	for size, want := range map[int]string{
		64 << 10:   "<nil>",
		64<<10 + 1: "x:1:1: the file is larger than 64 KiB; a session file is a few lines of text",
	} {
		_, err := read(strings.Repeat("#", size-len(start)), func(*fields.Mapping) {})
		if got := fmt.Sprint(err); got != want {
			t.Errorf("%d bytes: %s, want %s", size, got, want)
		}
	}
}

func TestReadError(t *testing.T) {
	_, err := fields.Read("x.yaml", iotest.ErrReader(errors.New("the disk is gone")), fields.BoxFile, func(*fields.Mapping) { t.Error("fields are asked for") })
	if err == nil || err.Error() != "x.yaml:1:1: cannot be read: the disk is gone" {
		t.Errorf("got %v", err)
	}
}

func TestJoin(t *testing.T) {
	a := &fields.Error{File: "a", Problems: []fields.Problem{{Place: fields.Place{Line: 7, Column: 2}, Text: "late"}}}
	b := &fields.Error{Problems: []fields.Problem{{Place: fields.Place{Line: 7, Column: 1}, Text: "early"}}}
	if got := fields.Join("f", nil, a, fmt.Errorf("wrapped: %w", b)); got.Error() != "f:7:1: early\nf:7:2: late" {
		t.Errorf("got %v", got)
	}
	if a.Error() != "a:7:2: late" {
		t.Errorf("a was changed: %v", a)
	}
	if got := fields.Join("f", nil, nil); got != nil {
		t.Errorf("nothing joined is %v", got)
	}
	other := errors.New("other")
	if got := fields.Join("f", a, other); got != other {
		t.Errorf("got %v", got)
	}
}

func TestParseNumber(t *testing.T) {
	for s, want := range map[string]float64{"0": 0, "-1.50": -1.5, "12": 12} {
		if f, ok := fields.ParseNumber(s); !ok || f != want {
			t.Errorf("%q is %v, %t", s, f, ok)
		}
	}
	for _, s := range []string{"", "01", "1e3", "0x1", ".5", "1.", "+1", "inf", "1_0"} {
		if _, ok := fields.ParseNumber(s); ok {
			t.Errorf("%q passes for a plain number", s)
		}
	}
}
