package sessions_test

import (
	"bytes"
	"fmt"
	"math"
	"path/filepath"
	"reflect"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"glidepace/sessions"
)

// slow is what most of the files below are tuned to.
var slow = sessions.Tuning{
	Rate: 6.5, Ratio: sessions.Ratio{Inhale: 1, Exhale: 1.6},
	Taper: &sessions.Taper{From: 14, Breaths: 16}, LeadIn: 16,
}

// spliceCases are pairs of texts between the head and the tail of a session
// file, before and after.
var spliceCases = []struct {
	name          string
	before, after string
	to            sessions.Tuning
}{
	{"in lines, all there", `
# The breath. Chosen on Monday.
breath:   # see the notes
  match: exhale-on-glide

  rate: 8       # was 9
  ratio: "1:1.5"   # long exhale
  pause: 0.5s
  taper: {from: 12, breaths: 9}  # from the count
# At rest.
lead_in: {breaths: 9}   # in the lap

set_up: 15s
`, `
# The breath. Chosen on Monday.
breath:   # see the notes
  match: exhale-on-glide

  rate: 6.5       # was 9
  ratio: "1:1.6"   # long exhale
  pause: 0.5s
  taper: {from: 14, breaths: 16}  # from the count
# At rest.
lead_in: {breaths: 16}   # in the lap

set_up: 15s
`, slow},

	{"in lines, all absent", `
breath:
    rate: 8   # too fast?
    # Pause: to be asked.
    pause: 0.3s
    # Nothing else yet.

# Here it goes.
set_up: 15s
`, `
breath:
    rate: 6.5   # too fast?
    ratio: "1:1.6"
    taper: {from: 14, breaths: 16}
    # Pause: to be asked.
    pause: 0.3s
    # Nothing else yet.
lead_in: {breaths: 16}

# Here it goes.
set_up: 15s
`, slow},

	{"in braces, all there", `
breath: { ratio: '1:1', taper: { breaths: 9, from: 12 } ,rate: 8.0 }# one line
lead_in: {breaths: 9 }
`, `
breath: { ratio: '1:1.6', taper: { breaths: 16, from: 14 } ,rate: 6.5 }# one line
lead_in: {breaths: 16 }
`, slow},

	{"in braces, all absent", `
breath: {rate: 8} # {one} line
`, `
breath: {rate: 6.5, ratio: "1:1.6", taper: {from: 14, breaths: 16}} # {one} line
lead_in: {breaths: 16}
`, slow},

	{"in braces over lines", `
breath: {
    rate: 8,   # a } here
    pause: 0.5s   # and a 'here
  }
`, `
breath: {
    rate: 6.5,   # a } here
    ratio: "1:1.6",
    taper: {from: 14, breaths: 16},
    pause: 0.5s   # and a 'here
  }
lead_in: {breaths: 16}
`, slow},

	{"in braces over lines, no comma", `
breath: {
    pause: 0.5s,
    rate: 8   # the last
  }
`, `
breath: {
    pause: 0.5s,
    rate: 6.5,   # the last
    ratio: "1:1.6",
    taper: {from: 14, breaths: 16}
  }
lead_in: {breaths: 16}
`, slow},

	{"in braces, the comma on the next line", `
breath: {
    rate: 8
    , pause: 0.5s
  }
`, `
breath: {
    rate: 6.5,
    ratio: "1:1.6",
    taper: {from: 14, breaths: 16}
    , pause: 0.5s
  }
lead_in: {breaths: 16}
`, slow},

	{"lengths in lines", `
breath:
  inhale: 3s     # counted
  exhale: "4.5s"   # with a sigh
  pause: 0.5s
`, `
breath:
  rate: 6.5     # counted
  ratio: "1:1.6"   # with a sigh
  taper: {from: 14, breaths: 16}
  pause: 0.5s
lead_in: {breaths: 16}
`, slow},

	{"lengths in braces", `
breath: {"exhale": '4s', 'inhale': 3s}
`, `
breath: {"ratio": '1:1.6', "taper": {"from": 14, "breaths": 16}, 'rate': 6.5}
lead_in: {breaths: 16}
`, slow},

	{"values on lines of their own", `
breath:
  rate:
    8  # under its key
  ratio:   # a long way
    '1:1'
  taper:
    breaths: 9  # b
    from:
      12   # f
lead_in:
  # Still.
  breaths: 9
`, `
breath:
  rate:
    6.5  # under its key
  ratio:   # a long way
    '1:1.6'
  taper:
    breaths: 16  # b
    from:
      14   # f
lead_in:
  # Still.
  breaths: 16
`, slow},

	{"escapes in quotes", `
breath: {'rate': 8, "r\x61tio": "1\x3a1"}
`, `
breath: {'rate': 6.5, "r\x61tio": "1:1.6", "taper": {"from": 14, "breaths": 16}}
lead_in: {breaths: 16}
`, slow},

	{"no taper any more, in lines", `
breath:
  rate: 8
  taper: {from: 12, breaths: 9}
  ratio: "1:1"
lead_in: {breaths: 9}
`, `
breath:
  rate: 12
  ratio: "1:1"
lead_in: {breaths: 0}
`, sessions.Tuning{Rate: 12, Ratio: sessions.Ratio{Inhale: 1, Exhale: 1}}},

	{"no taper any more, with its comments", `
breath:
  rate: 8
  taper:   # ease in
    # Two lines of it.

    from: 12     # from the count
    breaths: 9   # to the lead-in
  # About the pause.
  pause: 0.5s
`, `
breath:
  rate: 12
  ratio: "1:1"
  # ease in
    # Two lines of it.

    # from the count
    # to the lead-in
  # About the pause.
  pause: 0.5s
`, sessions.Tuning{Rate: 12, Ratio: sessions.Ratio{Inhale: 1, Exhale: 1}}},

	{"no taper any more, in braces", `
breath: {rate: 8, taper: {from: 12, breaths: 9}, pause: 0.5s}
`, `
breath: {rate: 12, ratio: "1:1", pause: 0.5s}
`, sessions.Tuning{Rate: 12, Ratio: sessions.Ratio{Inhale: 1, Exhale: 1}}},

	{"no taper any more, the last in braces", `
breath: {rate: 8, taper: {from: 12, breaths: 9} }
`, `
breath: {rate: 12, ratio: "1:1"}
`, sessions.Tuning{Rate: 12, Ratio: sessions.Ratio{Inhale: 1, Exhale: 1}}},

	{"no taper any more, the last in braces over lines", `
breath: {
  rate: 8,   # was 9
  taper: {from: 12,   # from the count
    breaths: 9}
  }
`, `
breath: {
  rate: 12, ratio: "1:1"   # was 9
  # from the count
  }
`, sessions.Tuning{Rate: 12, Ratio: sessions.Ratio{Inhale: 1, Exhale: 1}}},

	{"no taper any more, over lines that go on", `
breath: {rate: 8, taper: {from: 12,
    breaths: 9}, ratio: 1:1}
`, `
breath: {rate: 12,
    ratio: 1:1}
`, sessions.Tuning{Rate: 12, Ratio: sessions.Ratio{Inhale: 1, Exhale: 1}}},

	{"nothing to change", `
breath:
  rate: 8.50
  ratio: 1:1.50   # as it was
  taper: {from: 12.0, breaths: 9}
`, `
breath:
  rate: 8.50
  ratio: 1:1.50   # as it was
  taper: {from: 12.0, breaths: 9}
`, sessions.Tuning{Rate: 8.5, Ratio: sessions.Ratio{Inhale: 1, Exhale: 1.5}, Taper: &sessions.Taper{From: 12, Breaths: 9}}},
}

const spliceHead = "# Größe: \"niño\" {\nglidepace: 1\ntitle: 'It''s # one'   # a title\n"
const spliceTail = "exercises:\n  - {glide: median-wrist, side: right, reps: 5}\n# The end.\n"

// Each file is changed as the table says and nowhere else: with and without a
// byte order mark, with either kind of line end, with the breath in the middle
// and as the last thing in the file, with and without a line break there.
func TestSplice(t *testing.T) {
	windows := func(s string) string { return strings.ReplaceAll(s, "\n", "\r\n") }
	for _, c := range spliceCases {
		for _, way := range []struct {
			name       string
			head, tail string
			as         func(string) string
		}{
			{"in the middle", spliceHead, spliceTail, func(s string) string { return s }},
			{"windows", "\uFEFF" + spliceHead, spliceTail, windows},
			{"indented", "", "", func(s string) string {
				return strings.ReplaceAll("\n"+spliceHead+s+spliceTail, "\n", "\n   ")
			}},
			{"last", spliceHead + spliceTail, "", func(s string) string { return s }},
			{"last, no line break", spliceHead + spliceTail, "", func(s string) string { return strings.TrimSuffix(s, "\n") }},
			{"windows, last, no line break", spliceHead + spliceTail, "", func(s string) string { return windows(strings.TrimSuffix(s, "\n")) }},
		} {
			t.Run(c.name+"/"+way.name, func(t *testing.T) {
				before, want := way.as(way.head+c.before+way.tail), way.as(way.head+c.after+way.tail)
				got, err := sessions.Splice("f", []byte(before), c.to)
				if err != nil {
					t.Fatalf("%v\n%s", err, before)
				}
				if string(got) != want {
					t.Errorf("got:\n%q\nwant:\n%q", got, want)
				}
				checkSpliced(t, before, got, c.to)
			})
		}
	}
}

// The whole file in braces, as other programs write it.
func TestSpliceJSON(t *testing.T) {
	for _, c := range []struct{ before, after string }{
		{
			`{"glidepace":1,"title":"T","breath":{"rate":8,"pause":"0.5s"},"exercises":[{"glide":"median-wrist","side":"right","reps":5}]}`,
			`{"glidepace":1,"title":"T","breath":{"rate":6.5, "ratio": "1:1.6", "taper": {"from": 14, "breaths": 16},"pause":"0.5s"}, "lead_in": {"breaths": 16},"exercises":[{"glide":"median-wrist","side":"right","reps":5}]}`,
		}, {
			`{
  "glidepace": 1,
  "title": "T",
  "exercises": [{"glide": "median-wrist", "side": "right", "reps": 5}],
  "breath": {
    "inhale": "3s",
    "exhale": "4s"
  }
}
`, `{
  "glidepace": 1,
  "title": "T",
  "exercises": [{"glide": "median-wrist", "side": "right", "reps": 5}],
  "breath": {
    "rate": 6.5,
    "ratio": "1:1.6",
    "taper": {"from": 14, "breaths": 16}
  },
  "lead_in": {"breaths": 16}
}
`,
		},
	} {
		got, err := sessions.Splice("f", []byte(c.before), slow)
		if err != nil {
			t.Fatal(err)
		}
		if string(got) != c.after {
			t.Errorf("got:\n%s\nwant:\n%s", got, c.after)
		}
		checkSpliced(t, c.before, got, slow)
	}
}

// Every session file of the tests can be tuned.
func TestSpliceGoodFiles(t *testing.T) {
	for _, name := range sessionFiles(t, ".", "good") {
		t.Run(filepath.Base(name), func(t *testing.T) {
			src := readFile(t, name)
			got, err := sessions.Splice(name, src, slow)
			if err != nil {
				t.Fatal(err)
			}
			checkSpliced(t, string(src), got, slow)
		})
	}
}

func TestSpliceRefuses(t *testing.T) {
	good := spliceHead + "breath: {rate: 8}\n" + spliceTail
	tuned := func(change func(*sessions.Tuning)) sessions.Tuning {
		c := slow
		change(&c)
		return c
	}
	for _, c := range []struct {
		name, src string
		to        sessions.Tuning
		want      string
	}{
		{"a file with a problem", spliceHead + "breath: {rate: 80}\n" + spliceTail, slow, `f:4:16: rate: "80" is out of range; allowed: 3 to 30 breaths per minute`},
		{"a rate out of range", good, tuned(func(c *sessions.Tuning) { c.Rate = 2.5 }), `it would no longer be sound; nothing is changed: f:4:16: rate: "2.5" is out of range`},
		{"no number", good, tuned(func(c *sessions.Tuning) { c.Rate = math.NaN() }), "it would no longer be sound"},
		{"a lead-in out of range", good, tuned(func(c *sessions.Tuning) { c.LeadIn = 61 }), `breaths: "61" is out of range`},
		{"a taper out of range", good, tuned(func(c *sessions.Tuning) { c.Taper = &sessions.Taper{From: 12} }), `breaths: "0" is out of range`},
		{"no ratio", good, tuned(func(c *sessions.Tuning) { c.Ratio = sessions.Ratio{} }), `"0:0" is not such a ratio`},
		{"a ratio in a block of text", spliceHead + "breath:\n  rate: 8\n  ratio: |-\n    1:1\n" + spliceTail, slow, `f: line 6: "1:1" is written in a way that cannot be changed in place; nothing is changed: edit the file by hand`},
		{"keys behind question marks", spliceHead + "breath:\n  ? rate\n  : 8\n" + spliceTail, slow, "nothing is changed"},
		{"too long", good + "#" + strings.Repeat("x", 64<<10-len(good)-2), slow, "larger than 64 KiB"},
	} {
		got, err := sessions.Splice("f", []byte(c.src), c.to)
		if err == nil || !strings.Contains(err.Error(), c.want) {
			t.Errorf("%s: got error %v, want %q in it", c.name, err, c.want)
		}
		if got != nil {
			t.Errorf("%s: there is a text beside the error", c.name)
		}
	}
}

// checkSpliced fails where a spliced file does not mean what it was tuned to,
// means anything else differently, lacks a comment, or would be changed again.
func checkSpliced(t interface {
	Helper()
	Errorf(string, ...any)
}, before string, got []byte, to sessions.Tuning) {
	t.Helper()
	was, err := sessions.Parse("f", strings.NewReader(before))
	if err != nil {
		t.Errorf("before: %v", err)
		return
	}
	now, err := sessions.Parse("f", bytes.NewReader(got))
	if err != nil {
		t.Errorf("%v in:\n%s", err, got)
		return
	}
	meant := sessions.Tuning{Rate: now.Breath.Rate, Ratio: now.Breath.Ratio, Taper: now.Breath.Taper, LeadIn: now.LeadIn}
	if !reflect.DeepEqual(meant, to) {
		t.Errorf("it means %+v, want %+v", meant, to)
	}
	for _, same := range []struct {
		what     string
		was, now any
	}{
		{"title", was.Title, now.Title}, {"patient", was.Patient, now.Patient}, {"dose", was.Dose, now.Dose},
		{"match", was.Breath.Match, now.Breath.Match}, {"pause", was.Breath.Pause, now.Breath.Pause},
		{"exercises", was.Exercises, now.Exercises}, {"ease", was.Ease, now.Ease}, {"progress", was.Progress, now.Progress},
		{"sounds", was.Sounds, now.Sounds},
	} {
		if !reflect.DeepEqual(same.was, same.now) {
			t.Errorf("%s was %v, is %v", same.what, same.was, same.now)
		}
	}
	if a, b := comments(before), comments(string(got)); !reflect.DeepEqual(a, b) {
		t.Errorf("the comments were %q, are %q", a, b)
	}
	if again, err := sessions.Splice("f", got, to); err != nil || !bytes.Equal(again, got) {
		t.Errorf("the same again gives (%v)\n%s\nafter\n%s", err, again, got)
	}
}

// comments returns what stands after each # of a text, in order.
func comments(text string) []string {
	var list []string
	for line := range strings.Lines(text) {
		if _, c, ok := strings.Cut(strings.TrimRight(line, "\r\n"), "#"); ok {
			list = append(list, c)
		}
	}
	return list
}

// drawTuning draws what can be written into any file.
func drawTuning(t *rapid.T) sessions.Tuning {
	tenth := func(least, most int, label string) float64 {
		return float64(rapid.IntRange(10*least, 10*most).Draw(t, label)) / 10
	}
	to := sessions.Tuning{
		Rate:   tenth(3, 30, "rate"),
		Ratio:  sessions.Ratio{Inhale: tenth(1, 10, "inhale"), Exhale: tenth(1, 10, "exhale")},
		LeadIn: rapid.IntRange(0, 60).Draw(t, "lead-in"),
	}
	if rapid.Bool().Draw(t, "taper") {
		to.Taper = &sessions.Taper{From: tenth(3, 30, "from"), Breaths: rapid.IntRange(1, 200).Draw(t, "breaths")}
	}
	return to
}

// drawBreath draws the text of breath and lead_in, laid out in any way that a
// person might.
func drawBreath(t *rapid.T) string {
	one := func(label string, options ...string) string { return rapid.SampledFrom(options).Draw(t, label) }
	note := func() string { return one("note", "", "", "  # a note", " # {it's, \"so\"}") }
	quoted := func(s string) string { return one("quotes", `"`+s+`"`, "'"+s+"'", s) }
	value := map[string]string{
		"match": quoted("breath-per-rep"), "pause": quoted("0.25s"),
		"rate": one("rate", "8", "8.0", "12.5"), "ratio": quoted(one("ratio", "1:1", "2:3", "1.5:1")),
		"inhale": quoted("3s"), "exhale": quoted("4.5s"),
	}
	keys := []string{"rate"}
	if rapid.Bool().Draw(t, "lengths") {
		keys = []string{"inhale", "exhale"}
	} else {
		for _, k := range []string{"ratio", "taper"} {
			if rapid.Bool().Draw(t, k) {
				keys = append(keys, k)
			}
		}
	}
	for _, k := range []string{"match", "pause"} {
		if rapid.Bool().Draw(t, k) {
			keys = append(keys, k)
		}
	}
	keys = rapid.Permutation(keys).Draw(t, "order")
	key := func(k string) string { return one("key", k, k, `"`+k+`"`, "'"+k+"'") }
	taper := func(in string, flow bool) string {
		if in == "" || flow || rapid.Bool().Draw(t, "taper in braces") {
			gap := one("gap", " ", "", "\n      ", "  # inside\n      ")
			return "{" + key("from") + ": 12," + gap + "breaths: 9}"
		}
		return note() + "\n" + in + "  from: 12" + note() + "\n" + in + "  " + key("breaths") + ": 9"
	}

	var b strings.Builder
	b.WriteString(key("breath") + ":")
	if rapid.Bool().Draw(t, "braces") {
		end := one("end", "", " ", "\n   ")
		gap := one("between", "", " ", "\n    ", note()+"\n    ")
		b.WriteString(" {" + gap)
		for i, k := range keys {
			v := value[k]
			if k == "taper" {
				v = taper("", true)
			}
			b.WriteString(key(k) + ": " + v)
			if i < len(keys)-1 {
				b.WriteString(one("comma", ",", " ,") + gap)
			}
		}
		b.WriteString(one("last comma", "", ",") + end + "}" + note() + "\n")
	} else {
		in := one("indent", "  ", "    ", " ")
		b.WriteString(note() + "\n")
		for _, k := range keys {
			v := value[k]
			if k == "taper" {
				v = taper(in, false)
			} else {
				v = one("space", "", "  ", note()+"\n"+in+"  ") + v
			}
			b.WriteString(one("before", "", "\n", in+"# Above.\n", "# At the edge.\n") + in + key(k) + ": " + v + note() + "\n")
		}
	}
	b.WriteString(one("after", "", "\n", "  # Below.\n"))
	switch one("lead_in", "", "braces", "lines") {
	case "braces":
		b.WriteString("lead_in: {" + key("breaths") + ": 9}" + note() + "\n")
	case "lines":
		b.WriteString("lead_in:" + note() + "\n  breaths: 9" + note() + "\n")
	}
	return b.String()
}

// Whatever the layout, the new values are in and all before and after breath
// and lead_in is byte for byte as it was.
func TestSpliceAnyLayout(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		head, tail, breath := spliceHead, spliceTail, drawBreath(t)
		if rapid.Bool().Draw(t, "last") {
			head, tail = head+tail, ""
		}
		if rapid.Bool().Draw(t, "windows") {
			for _, s := range []*string{&head, &breath, &tail} {
				*s = strings.ReplaceAll(*s, "\n", "\r\n")
			}
			head = "\uFEFF" + head
		}
		if tail == "" && rapid.Bool().Draw(t, "no line break") {
			breath = strings.TrimRight(breath, "\r\n")
		}
		before, to := head+breath+tail, drawTuning(t)
		got, err := sessions.Splice("f", []byte(before), to)
		if err != nil {
			t.Fatalf("%v\n%s", err, before)
		}
		if !bytes.HasPrefix(got, []byte(head)) || !bytes.HasSuffix(got, []byte(tail)) {
			t.Errorf("something else was changed:\n%q\nbefore:\n%q", got, before)
		}
		if bytes.Count(got, []byte("\r\n")) > 0 && bytes.Count(got, []byte("\r\n")) != bytes.Count(got, []byte("\n")) {
			t.Errorf("two kinds of line ends:\n%q", got)
		}
		checkSpliced(t, before, got, to)
	})
}

// No text makes Splice panic or give a file that means something else.
func FuzzSplice(f *testing.F) {
	for _, name := range sessionFiles(f, ".", "good") {
		f.Add(readFile(f, name), 6.5, 1.6, 14.0, 16, 16)
	}
	for _, c := range spliceCases {
		f.Add([]byte(spliceHead+c.before+spliceTail), c.to.Rate, c.to.Ratio.Exhale, 0.0, 0, c.to.LeadIn)
	}
	f.Fuzz(func(t *testing.T, src []byte, rate, exhale, from float64, breaths, leadIn int) {
		to := sessions.Tuning{Rate: rate, Ratio: sessions.Ratio{Inhale: 1, Exhale: exhale}, LeadIn: leadIn}
		if breaths != 0 {
			to.Taper = &sessions.Taper{From: from, Breaths: breaths}
		}
		got, err := sessions.Splice("f", src, to)
		if err != nil {
			return
		}
		if _, err := sessions.Parse("f", bytes.NewReader(src)); err != nil {
			t.Errorf("a file with problems was spliced: %v", err)
		}
		now, err := sessions.Parse("f", bytes.NewReader(got))
		if err != nil {
			t.Fatalf("%v in:\n%s", err, got)
		}
		if now.Breath.Rate != rate || now.LeadIn != leadIn || !reflect.DeepEqual(now.Breath.Taper, to.Taper) {
			t.Errorf("it means %+v, lead-in %d, want %+v", now.Breath, now.LeadIn, to)
		}
	})
}

func ExampleSplice() {
	file := `glidepace: 1
title: First week
breath:
  rate: 8   # to be tuned
exercises: [{glide: median-wrist, side: right, reps: 5}]
`
	tuned, err := sessions.Splice("first-week.yaml", []byte(file), sessions.Tuning{
		Rate: 6.5, Ratio: sessions.Ratio{Inhale: 1, Exhale: 1.5},
		Taper: &sessions.Taper{From: 14, Breaths: 16}, LeadIn: 16,
	})
	if err != nil {
		fmt.Println(err)
		return
	}
	fmt.Print(string(tuned))
	// Output:
	// glidepace: 1
	// title: First week
	// breath:
	//   rate: 6.5   # to be tuned
	//   ratio: "1:1.5"
	//   taper: {from: 14, breaths: 16}
	// lead_in: {breaths: 16}
	// exercises: [{glide: median-wrist, side: right, reps: 5}]
}
